// The page of a pack.

import { begin } from "./view.js";

begin();
