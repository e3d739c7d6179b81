"""What every IFC file begins with: header, who made it, units. All of it fixed, so that bytes do not change."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import ifcopenshell

INVENTED = "Invented test model: the place, the building and everybody named in it are made up."
WRITTEN_AT = "2024-01-01T00:00:00"
WRITTEN_AT_SECONDS = 1704067200
NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "https://example.invalid/sample-models")
DECIMALS = 9
"""Of a file unit: far below any tolerance, and it keeps 2.7409999999999997 out of the file."""
SQUARE_FOOT, CUBIC_FOOT = 0.09290304, 0.028316846592
CONVERTED = {
    "inch": (
        ("LENGTHUNIT", "IfcLengthMeasure", 1, "INCH", 0.0254),
        ("AREAUNIT", "IfcAreaMeasure", 2, "SQUARE FOOT", SQUARE_FOOT),
        ("VOLUMEUNIT", "IfcVolumeMeasure", 3, "CUBIC FOOT", CUBIC_FOOT),
    )
}
"""Length unit of a file -> its converted units. The inch file keeps areas and volumes in feet, as many do."""
PREFIX = {"millimetre": "MILLI", "metre": None, "inch": None}

Numbers = Sequence[float]


@dataclass(frozen=True, slots=True)
class ProjectSettings:
    """What distinguishes one sample file from another."""

    file_name: str
    schema: Literal["IFC2X3", "IFC4"]
    unit: str
    """millimetre, metre or inch"""
    name: str
    description: str
    true_north: tuple[float, float] = (0.0, 1.0)


def write_header(file: ifcopenshell.file, settings: ProjectSettings) -> None:
    """The STEP header, without clock or version."""
    view = "CoordinationView" if settings.schema == "IFC2X3" else "DesignTransferView"
    header = file.header
    header.file_description.description = (f"ViewDefinition [{view}]", INVENTED)
    name = header.file_name
    name.name = settings.file_name
    name.time_stamp = WRITTEN_AT
    name.author = ("nobody, an invented model",)
    name.organization = ("none",)
    name.preprocessor_version = "make_sample_models.py"
    name.originating_system = "make_sample_models.py"
    name.authorization = "none"


def owner_history(file: ifcopenshell.file) -> Any:
    """The owner that every rooted entity names."""
    person = file.create_entity("IfcPerson", FamilyName="Nobody")
    organization = file.create_entity("IfcOrganization", Name="Invented drawing office")
    user = file.create_entity("IfcPersonAndOrganization", ThePerson=person, TheOrganization=organization)
    application = file.create_entity(
        "IfcApplication",
        ApplicationDeveloper=organization,
        Version="1",
        ApplicationFullName="make_sample_models.py",
        ApplicationIdentifier="make_sample_models",
    )
    return file.create_entity(
        "IfcOwnerHistory",
        OwningUser=user,
        OwningApplication=application,
        ChangeAction="NOCHANGE",
        CreationDate=WRITTEN_AT_SECONDS,
    )


def units(file: ifcopenshell.file, unit: str) -> Any:
    """The units of the file: length, area, volume and angle."""
    made = [
        file.create_entity("IfcSIUnit", UnitType="LENGTHUNIT", Prefix=PREFIX[unit], Name="METRE"),
        file.create_entity("IfcSIUnit", UnitType="AREAUNIT", Name="SQUARE_METRE"),
        file.create_entity("IfcSIUnit", UnitType="VOLUMEUNIT", Name="CUBIC_METRE"),
    ]
    for n, (kind, measure, power, name, factor) in enumerate(CONVERTED.get(unit, ())):
        value = file.create_entity(
            "IfcMeasureWithUnit", ValueComponent=file.create_entity(measure, factor), UnitComponent=made[n]
        )
        made[n] = file.create_entity(
            "IfcConversionBasedUnit",
            Dimensions=file.create_entity("IfcDimensionalExponents", power, 0, 0, 0, 0, 0, 0),
            UnitType=kind,
            Name=name,
            ConversionFactor=value,
        )
    made.append(file.create_entity("IfcSIUnit", UnitType="PLANEANGLEUNIT", Name="RADIAN"))
    return file.create_entity("IfcUnitAssignment", Units=made)
