// Files dropped onto a page, or chosen, are sent at once with their progress.
import { tell, token } from "./live.js";

/** A form with a file field that also takes what is dropped on it. */
class DropHere extends HTMLElement {
  connectedCallback() {
    this.form = this.querySelector("form");
    this.input = this.querySelector("input[type=file]");
    if (!this.form || !this.input) return;
    this.querySelector("button")?.setAttribute("hidden", "");
    this.input.addEventListener("change", () => this.send(this.input.files));
    this.addEventListener("dragover", (event) => {
      event.preventDefault();
      this.dataset.over = "";
    });
    this.addEventListener("dragleave", () => delete this.dataset.over);
    this.addEventListener("drop", (event) => {
      event.preventDefault();
      delete this.dataset.over;
      this.send(event.dataTransfer.files);
    });
  }

  /** Sends the files, showing how far it has come; the answer is the next page. */
  send(files) {
    if (!files.length) return;
    const data = new FormData(this.form);
    data.delete(this.input.name);
    for (const file of files) data.append(this.input.name, file);
    const bar = document.createElement("progress");
    bar.max = 1;
    bar.setAttribute("aria-label", "Sending");
    this.append(bar);
    this.dataset.busy = "";
    const request = new XMLHttpRequest();
    request.open("POST", this.form.action);
    request.setRequestHeader("x-barebulb-token", token());
    request.upload.addEventListener("progress", (event) => {
      bar.value = event.lengthComputable ? event.loaded / event.total : 0;
    });
    const done = () => {
      bar.remove();
      delete this.dataset.busy;
    };
    request.addEventListener("error", () => {
      done();
      tell("The files could not be sent: the program does not answer, or refused them while they came in. Try again.");
    });
    request.addEventListener("load", () => {
      done();
      if (request.status < 400) {
        location.assign(request.responseURL);
      } else {
        const page = new DOMParser().parseFromString(request.responseText, "text/html");
        tell(page.querySelector(".refused p")?.textContent || "That did not work.");
      }
    });
    request.send(data);
  }
}
customElements.define("drop-here", DropHere);
