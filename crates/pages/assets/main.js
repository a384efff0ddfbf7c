// What every page runs: it listens to what happens, keeps what is being typed, and writes dates and
// numbers as the reader does. The elements of the pages are modules of their own.
import "./live.js";
import "./drop.js";
import "./keep.js";
import "./charts.js";
import "./song-strip.js";
import "./song-page.js";
import "./song-bounds.js";
import "./song-lyrics.js";
import "./cut-player.js";
import "./takes.js";
import { localise, reach } from "./own-form.js";

const fit = () => {
  localise(document);
  reach(document);
};
fit();
document.addEventListener("htmx:after:swap", fit);
document.addEventListener("toggle", () => reach(document), true);
addEventListener("resize", () => reach(document));
