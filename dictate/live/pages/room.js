// Shows the exam's view. Everything comes as server-sent events; a lost connection is said, and looked for again.
"use strict";
const WORDS = {
  waiting: "Getting ready", listening: "Listening", paused: "Paused: not recording", finishing: "Writing the draft",
  finished: "Finished", failed: "No draft", lost: "No connection",
};
const ORDERS = { listening: "pause", paused: "resume" };
const QUIET = 8000; // milliseconds without a sign of life after which the connection counts as lost
const FLOOR = 60; // dB below full scale at which the bar of the level is empty
const find = (selector) => document.querySelector(selector);
let source = null, heardAt = 0, view = null;

function text(node, value) { if (node.textContent !== value) node.textContent = value; }
function made(tag, value, kind) {
  const node = document.createElement(tag);
  node.textContent = value;
  if (kind) node.className = kind;
  return node;
}
function fill(section, list, nodes) {
  section.hidden = nodes.length === 0;
  list.replaceChildren(...nodes);
}
function clock(seconds) { return `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`; }

function state(name) {
  document.body.dataset.state = name;
  text(find("#state .word"), WORDS[name] || name);
}

function question(q) {
  const item = document.createElement("li");
  const choices = made("span", "", "choices");
  choices.append(...q.choices.map((c) => made("span", c)));
  const title = made("span", q.title, "title");
  item.append(made("span", String(q.number), "number"), title, choices);
  return item;
}

function line(l) {
  const item = document.createElement("li");
  item.append(made("span", l.name, "name"), made("span", l.text + (l.doubtful ? " (?)" : ""), "text"));
  return item;
}

function value(v) {
  const pair = document.createElement("div");
  pair.append(made("dt", v.name), made("dd", v.text, v.doubtful ? "doubt" : ""));
  return pair;
}

// Regions with open sites, the one at hand first; how many of its sites were spoken of, of how many.
function regions(all) {
  const open = all.filter((r) => r.told < r.due && r.name !== view.here);
  const begun = open.filter((r) => r.told).concat(open.filter((r) => !r.told));
  const list = find("#regions ul");
  const items = begun.map((r) => {
    const item = made("li", `${r.name} `);
    item.append(made("span", `${r.told}/${r.due}`, "share"));
    return item;
  });
  list.replaceChildren(...items);
  const box = find("#regions");
  let left = 0;
  while (items.length > left && box.scrollHeight > box.clientHeight + 4) {
    left += 1;
    list.replaceChildren(...items.slice(0, items.length - left), made("li", `+${left}`));
  }
}

// The last words stay in two lines: the beginning is cut off, word by word.
function fit(node) {
  const settled = node.querySelector(".settled");
  const words = settled.textContent.split(" ");
  const spare = 0.2 * parseFloat(getComputedStyle(node).fontSize); // letters reach a little beyond their lines
  while (node.scrollHeight > node.clientHeight + spare && words.length) {
    words.shift();
    settled.textContent = words.length ? `… ${words.join(" ")}` : "";
  }
  const passing = node.querySelector(".passing");
  const late = passing.textContent.split(" ");
  while (node.scrollHeight > node.clientHeight + spare && late.length) {
    late.shift();
    passing.textContent = `… ${late.join(" ")}`;
  }
}

// What does not fit is left out whole, oldest first; half a line can be misread.
function tooTall(box) { return box.scrollHeight > box.clientHeight + 4; }
function trim(list) {
  const box = list.closest("main, aside");
  while (list.children.length > 0 && tooTall(box)) list.firstElementChild.remove();
}

function show(v) {
  view = v;
  state(v.state);
  text(find("#patient"), v.patient);
  text(find("#clock"), clock(v.seconds));
  const trouble = find("#trouble");
  fill(trouble, trouble, v.troubles.map((t) => made("p", t)));
  text(find("#heard .settled"), v.heard);
  text(find("#heard .passing"), v.provisional);
  fill(find("#questions"), find("#questions ol"), v.questions.map(question));
  text(find("#more"), v.waiting ? `${v.waiting} more for the review` : "");
  find("#more").hidden = !v.waiting;
  fill(find("#said"), find("#said ul"), v.said.map((s) => made("li", s)));
  fill(find("#lines"), find("#lines ul"), v.said.length ? [] : v.lines.map(line));
  fill(find("#values"), find("#values dl"), v.values.map(value));
  const here = v.regions.find((r) => r.name === v.here);
  find("#open").hidden = !here || !here.open.length;
  if (here) {
    text(find("#open h2"), `Still open, ${here.name}`);
    text(find("#open p"), here.open.join(", "));
  }
  const [first, ...rest] = v.notice.split(/(?<=[.!?])\s/);
  text(find("#notice .first"), v.state === "finished" ? "The draft awaits the review." : first || "");
  text(find("#notice .rest"), v.state === "finished" ? "" : rest.join(" "));
  text(find("#orders"), v.wake && ORDERS[v.state] ? `Say “${v.wake}, ${ORDERS[v.state]}”` : "");
  fit(find("#heard"));
  trim(find("#lines ul"));
  if (tooTall(find("main"))) find("#more").hidden = true;
  while (tooTall(find("main")) && find("#questions ol").children.length > 1) find("#questions ol").lastElementChild.remove();
  trim(find("#values dl"));
  regions(v.regions);
}

function connect() {
  if (source) source.close();
  source = new EventSource("/view");
  heardAt = Date.now();
  source.onmessage = (message) => { heardAt = Date.now(); show(JSON.parse(message.data)); };
  source.addEventListener("level", (message) => {
    heardAt = Date.now();
    find("#level span").style.inlineSize = `${Math.min(100, Math.max(0, 100 * (1 + Number(message.data) / FLOOR)))}%`;
    if (view) state(view.state);
  });
  source.onerror = () => state("lost");
}
setInterval(() => {
  const gone = source.readyState === EventSource.CLOSED || Date.now() - heardAt > QUIET;
  if (!gone) return;
  state("lost");
  connect();
}, 1000);
document.fonts.ready.then(() => { if (view) show(view); });
addEventListener("resize", () => { if (view) show(view); });
connect();
