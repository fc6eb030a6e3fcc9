/* What every page has: single keys, questions before what cannot be taken back, copying, roving, how it is set. */

import "./confirm.js";
import "./copy.js";
import "./rove.js"; // before keys: an arrow that moved between chairs is used up
import "./keys.js";
import "./reading.js";
