// The page of a preset: the 3-D view follows the file, which is edited next to it.

import { building } from "./build.js";
import { edit } from "./editor.js";
import { follow } from "./live.js";
import { begin, listPieces, showBlobs } from "./view.js";

async function start() {
  await begin();
  const editor = await edit();
  const build = building(() => editor.settled());
  follow({ showBlobs, listPieces, editor, build });
}

start();
