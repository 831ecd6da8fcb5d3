// Builds the page into the folder given, ready to be filled in and published.
import { copyFile, mkdir, readFile, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { build } from "esbuild";

const target = process.argv[2];
if (!target) {
  console.error("usage: node build.mjs FOLDER");
  process.exit(2);
}
await mkdir(target, { recursive: true });
await build({
  entryPoints: { viewer: "src/main.ts" },
  outdir: target,
  bundle: true,
  minify: true,
  // A classic script: browsers load no modules from the file system.
  format: "iife",
  target: ["es2022"],
  legalComments: "none",
  logLevel: "warning",
});
await build({
  entryPoints: { viewer: "src/viewer.css" },
  outdir: target,
  bundle: true,
  minify: true,
  target: ["es2022"],
  logLevel: "warning",
});
await copyFile("src/index.html", join(target, "index.html"));

const licence = await readFile("node_modules/openseadragon/LICENSE.txt", "utf8");
const { version } = JSON.parse(await readFile("node_modules/openseadragon/package.json", "utf8"));
await writeFile(
  join(target, "licences.txt"),
  "The page in this folder is part of Belvedere, under the Apache License 2.0\n" +
    "(https://www.apache.org/licenses/LICENSE-2.0).\n\n" +
    `viewer.js contains OpenSeadragon ${version}, under the following licence:\n\n${licence}`,
);
