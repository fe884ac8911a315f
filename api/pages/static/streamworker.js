// The worker that holds the one line to the service for every page of this browser.

import { Feed } from "./feed.js";
import { Hub } from "./hub.js";

const hub = new Hub((after, told) => new Feed(after, told));

addEventListener("connect", ({ ports: [port] }) => hub.connect(port));
