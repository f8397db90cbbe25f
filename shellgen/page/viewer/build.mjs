// npm ci && npm run build: writes ../viewer.js and ../../live/workbench.js (or both into the folder named behind), each
// one classic script: that of a pack's page, and that of the page on which a preset is edited. A test builds them again
// and compares.
import { build } from "esbuild";
import { join } from "node:path";

const folder = process.argv[2];
const THREE = "three.js, MIT License, Copyright 2010-2026 three.js authors";
const CODEMIRROR = "CodeMirror and Lezer, MIT License";
const scripts = [
  { from: "src/main.js", to: "../viewer.js", holds: [THREE] },
  { from: "src/bench.js", to: "../../live/workbench.js", holds: [THREE, CODEMIRROR] },
];

for (const { from, to, holds } of scripts) {
  await build({
    entryPoints: [from],
    bundle: true,
    minify: true,
    format: "iife",
    target: "es2020",
    legalComments: "inline",
    charset: "utf8",
    banner: { js: `/* ${holds.join("; ")}; see viewer/LICENSES.txt */` },
    outfile: folder ? join(folder, to.split("/").at(-1)) : to,
  });
}
