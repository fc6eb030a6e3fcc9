/* A student's list of work: opens without a network, with what it leads to. */

import { keepOffline } from "./offline.js";

keepOffline();
