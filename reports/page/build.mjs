// Builds the asset of takeoff.html: one script, one style sheet and the licences, into ../data/page.
// `node build.mjs [FOLDER]` writes to another folder, so that CI can compare the bytes.
import { build } from "esbuild";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const out = process.argv[2] ?? join(here, "..", "data", "page");
mkdirSync(out, { recursive: true });

const shared = {
  absWorkingDir: here,
  bundle: true,
  minify: true,
  charset: "utf8",
  legalComments: "none",
  logLevel: "warning",
  target: ["es2022", "chrome110", "firefox115", "safari16.4"],
  write: false,
};

const [script] = (
  await build({ ...shared, entryPoints: ["src/main.ts"], format: "iife", sourcemap: false })
).outputFiles;
const [style] = (await build({ ...shared, entryPoints: ["src/style.css"] })).outputFiles;

// An inline script must not hold the text that would end it.
writeFileSync(join(out, "page.js"), script.text.replaceAll("</script", "<\\/script").replaceAll("<!--", "<\\!--"));
writeFileSync(join(out, "page.css"), style.text);
writeFileSync(join(out, "page.html"), readFileSync(join(here, "src", "page.html"), "utf8"));
const three = JSON.parse(readFileSync(join(here, "node_modules", "three", "package.json"), "utf8"));
const licence = readFileSync(join(here, "node_modules", "three", "LICENSE"), "utf8").trim();
writeFileSync(join(out, "LICENCES.txt"), `three ${three.version} (${three.license})\n\n${licence}\n`);
