// npm install && npm run build: writes ../viewer.js, one classic script that a page opened from disk may hold.
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
  outfile: "../viewer.js",
});
