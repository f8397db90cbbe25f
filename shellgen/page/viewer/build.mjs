// npm ci && npm run build: writes ../viewer.js (or the file named behind), one classic script that a page opened from
// disk may hold. A test builds it again and compares.
import { build } from "esbuild";

await build({
  entryPoints: ["src/main.js"],
  bundle: true,
  minify: true,
  format: "iife",
  target: "es2020",
  legalComments: "inline",
  charset: "utf8",
  banner: { js: "/* three.js, MIT License, Copyright 2010-2026 three.js authors; see viewer/LICENSES.txt */" },
  outfile: process.argv[2] ?? "../viewer.js",
});
