// A button for each jar beside the three counts: tap it until it says what was found. The counts follow the taps, and
// without scripts they are typed. A jar that nobody looked at yet counts as nothing.
"use strict";

const form = document.getElementById("count");
const jars = document.getElementById("jars");
if (form && jars) begin();

function begin() {
  const fields = ["sealed", "unsealed", "broken"].map((name) => form.elements[name]);
  const words = [jars.dataset.none, ...fields.map((field) => field.labels[0].textContent)];
  const found = new Array(Number(jars.dataset.jars)).fill(0);

  found.forEach((_none, place) => {
    const button = document.createElement("button");
    button.type = "button";
    button.addEventListener("click", () => {
      found[place] = (found[place] + 1) % words.length;
      show(button, place);
      fields.forEach((field, kind) => {
        field.value = found.filter((one) => one === kind + 1).length;
      });
    });
    show(button, place);
    jars.append(button);
  });
  jars.parentElement.hidden = false;

  function show(button, place) {
    button.className = `jar found-${found[place]}`;
    button.textContent = `${place + 1} ${words[found[place]]}`;
  }
}
