// Keys, sound and the site picker. Every page works without this file: it only makes things quicker.
"use strict";

const keysOn = document.documentElement.dataset.keys !== "off";
const writing = (node) => node.matches("input:not([type=radio]):not([type=checkbox]), textarea, select, [contenteditable]");

// A key presses the visible thing that carries it: a button is pressed, a field gets the focus. Inside a form that has
// keys of its own ("data-scope") only those count, so that nothing outside is answered by mistake.
function pressKey(event) {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
  if (event.key === "Escape") return leave(event);
  if (sendsText(event)) return;
  if (!keysOn || writing(event.target)) return;
  const wanted = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  const scope = event.target.closest("[data-scope]");
  if (!scope && pressInLines(event, wanted)) return;
  const found = withKey(wanted, scope);
  if (!found) return;
  event.preventDefault();
  if (found.matches("summary")) {
    const fold = found.parentElement;
    fold.open = !fold.open;
    const first = (fold.open && fold.querySelector("input:not([type=hidden]), select, textarea")) || found;
    first.focus();
    if (first.matches("textarea")) first.setSelectionRange(first.value.length, first.value.length);
  } else if (found.matches("label") && found.control) {
    found.control.click();
    found.control.focus();
  } else if (writing(found)) {
    found.focus();
  } else {
    found.click();
  }
}

function withKey(wanted, scope) {
  const fits = (node) => node.dataset.key === wanted && !node.disabled && node.checkVisibility();
  const outside = (node) => !node.closest("[data-scope]");
  return [...(scope || document).querySelectorAll("[data-key]")].find((node) => fits(node) && (scope || outside(node)));
}

// j and k go from line to line of a record; p plays the line's sound, Enter changes the line.
function pressInLines(event, wanted) {
  const lines = [...document.querySelectorAll("[data-line]")];
  const line = event.target.closest("[data-line]");
  const onLine = line && event.target === line;
  let does = null;
  if (lines.length && (wanted === "j" || wanted === "k")) {
    const from = line ? lines.indexOf(line) : wanted === "j" ? -1 : 0;
    const next = lines[from + (wanted === "j" ? 1 : -1)];
    does = next && (() => {
      next.tabIndex = -1;
      next.focus();
    });
  } else if (line && wanted === "p") {
    const sound = line.querySelector("[data-sound]");
    does = sound && (() => sound.click());
  } else if (onLine && wanted === "Enter") {
    const change = line.querySelector(".change");
    does = change && (() => change.click());
  }
  if (does) {
    event.preventDefault();
    does();
  }
  return Boolean(does);
}

// Enter sends words that were typed; with Shift it begins a new line.
function sendsText(event) {
  if (event.key !== "Enter" || event.shiftKey || event.target.dataset.enterSends === undefined) return false;
  event.preventDefault();
  event.target.form.requestSubmit(event.target.form.querySelector("button"));
  return true;
}

// Escape leaves a field, closes what was unfolded, stops the sound.
function leave(event) {
  stopSound();
  const away = withKey("Escape", event.target.closest("[data-scope]"));
  const fold = event.target.closest("details[open]");
  if (away && !fold) return away.click();
  if (fold) {
    fold.open = false;
    fold.querySelector("summary").focus();
  } else if (writing(event.target)) {
    event.target.blur();
  }
}

let playing = null;

function stopSound() {
  if (!playing) return;
  playing.sound.pause();
  playing.button.removeAttribute("data-playing");
  playing = null;
}

function playSound(event) {
  const button = event.target.closest("[data-sound]");
  if (!button) return;
  event.preventDefault();
  const again = playing && playing.button === button;
  stopSound();
  if (again) return;
  const sound = new Audio(button.dataset.sound);
  playing = { sound, button };
  button.setAttribute("data-playing", "");
  sound.addEventListener("ended", stopSound);
  sound.play().catch(() => {
    stopSound();
    say("This stretch could not be played.");
  });
}

function say(text) {
  const place = document.querySelector("[data-say]");
  if (place) place.textContent = text;
}

// A field with a list of names: a few letters narrow it down, arrows choose, Enter takes the first that fits.
// Letters match the beginning of any word of a name, or of the other words that people use for it.
function makePicker(field) {
  const source = document.getElementById(field.dataset.names);
  if (!source) return;
  const names = [...source.options].map((option) => ({
    name: option.value,
    words: (option.value + " " + (option.dataset.also || "")).toLowerCase(),
  }));
  field.removeAttribute("list");
  const list = document.createElement("ul");
  list.id = field.id + "-list";
  list.className = "names";
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", "Names that fit");
  list.hidden = true;
  field.after(list);
  field.setAttribute("role", "combobox");
  field.setAttribute("aria-autocomplete", "list");
  field.setAttribute("aria-expanded", "false");
  field.setAttribute("aria-controls", list.id);
  field.autocomplete = "off";
  let chosen = 0;

  const fitting = () => {
    const parts = field.value.toLowerCase().split(/\s+/).filter(Boolean);
    if (!parts.length) return [];
    const fits = names.filter(({ words }) => parts.every((part) => (" " + words).includes(" " + part)));
    const rank = ({ name }) => (name.toLowerCase().startsWith(parts[0]) ? 0 : 1) + name.length / 1000;
    return fits.sort((one, other) => rank(one) - rank(other)).slice(0, 8);
  };
  const shut = () => {
    list.hidden = true;
    field.setAttribute("aria-expanded", "false");
    field.removeAttribute("aria-activedescendant");
  };
  const draw = () => {
    const found = fitting();
    chosen = Math.max(0, Math.min(chosen, found.length - 1));
    list.replaceChildren(
      ...found.map(({ name }, rank) => {
        const line = document.createElement("li");
        line.id = `${list.id}-${rank}`;
        line.setAttribute("role", "option");
        line.setAttribute("aria-selected", String(rank === chosen));
        line.textContent = name;
        line.addEventListener("pointerdown", (event) => {
          event.preventDefault();
          take(name);
        });
        return line;
      }),
    );
    if (!found.length) return shut();
    list.hidden = false;
    field.setAttribute("aria-expanded", "true");
    field.setAttribute("aria-activedescendant", `${list.id}-${chosen}`);
  };
  const take = (name) => {
    field.value = name;
    shut();
    field.dispatchEvent(new Event("change", { bubbles: true }));
  };
  field.addEventListener("input", () => {
    chosen = 0;
    draw();
  });
  field.addEventListener("blur", () => {
    const [first] = fitting();
    if (!list.hidden && first) take(list.children[chosen]?.textContent || first.name);
    shut();
  });
  field.addEventListener("keydown", (event) => {
    if (list.hidden) return;
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      chosen = (chosen + (event.key === "ArrowDown" ? 1 : -1) + list.children.length) % list.children.length;
      draw();
    } else if (event.key === "Enter") {
      event.preventDefault();
      take(list.children[chosen].textContent);
      const fields = [...field.form.querySelectorAll("input:not([type=hidden]), select, textarea, button")];
      fields[fields.indexOf(field) + 1]?.focus();
    } else if (event.key === "Escape") {
      event.preventDefault();
      event.stopPropagation();
      shut();
    }
  });
}

// A form is sent once: a key that is held or pressed twice must not answer the next question too.
function sendOnce(event) {
  if (event.target.dataset.sent !== undefined) return event.preventDefault();
  event.target.dataset.sent = "";
}

document.addEventListener("keydown", pressKey);
document.addEventListener("click", playSound);
document.addEventListener("submit", sendOnce);
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
});
for (const field of document.querySelectorAll("input[data-names]")) makePicker(field);

// Where an address names a line, a browser leaves "autofocus" alone and takes the focus away when all is loaded; the
// keyboard goes on from the form or the line.
function focusWhereNamed() {
  const wanted = document.querySelector("[autofocus]") || document.querySelector("[data-line]:target");
  if (!wanted || !location.hash) return;
  if (wanted.matches("[data-line]")) wanted.tabIndex = -1;
  wanted.focus();
}
window.addEventListener("load", () => setTimeout(focusWhereNamed));
