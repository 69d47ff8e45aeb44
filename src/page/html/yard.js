// The yard on a phone: every board is kept on the phone until the program has it, and sent again when the line is
// back. A board has a name of the phone's, so that one sent twice is one.
"use strict";

const COLUMNS = ["board", "species", "quarter", "grade", "width", "length", "value", "defects"];
const STORE = "ripwright-yard " + location.pathname;
const byId = (id) => document.getElementById(id);
const form = byId("board");
const verdict = byId("verdict");
// A form's own list of elements has a length, so a field of that name is asked for by its name.
const fieldOf = (name) => form.elements.namedItem(name);

// What the phone knows: boards by their names, and which of them wait to be sent.
let kept = { boards: [], waiting: [] };
try {
  kept = JSON.parse(localStorage.getItem(STORE)) || kept;
} catch { /* a store that cannot be read is an empty one */ }
const keep = () => { try { localStorage.setItem(STORE, JSON.stringify(kept)); } catch { say("This phone keeps nothing: do not close the page before all is sent."); } };
const say = (text) => { byId("said").textContent = text; };
const newId = () => [...crypto.getRandomValues(new Uint8Array(12))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
const boardOf = (id) => kept.boards.find((board) => board.id === id);

// The field that the keys write into.
let field = fieldOf("width");
const sizes = [fieldOf("width"), fieldOf("length")];
function select(next) {
  field = next;
  for (const one of sizes) one.classList.toggle("here", one === field);
}
for (const one of sizes) {
  one.addEventListener("focus", () => select(one));
  one.addEventListener("input", draw);
}
select(field);

for (const key of form.querySelectorAll("[data-key]")) {
  key.addEventListener("click", () => {
    const letter = key.dataset.key;
    if (letter === "back") field.value = field.value.slice(0, -1);
    else if (letter === "next") select(sizes[(sizes.indexOf(field) + 1) % sizes.length]);
    else field.value = (field.value + letter).replace(/^ /, "").slice(0, 20);
    draw();
  });
}

// A size as a number in the shop's unit, for the drawing alone: the program reads what was typed.
function rough(text) {
  const [feet, rest] = text.includes("'") ? text.split("'") : ["", text];
  let sum = Number(feet || 0) * 12;
  for (const word of rest.replace(/["a-z]/gi, " ").split(/[\s-]+/)) {
    const [over, under] = word.split("/");
    if (word) sum += under ? Number(over) / Number(under) : Number(over);
  }
  return Number.isFinite(sum) ? sum : 0;
}

let defects = [];
let corner = null;
const outline = byId("outline");
const SVG = "http://www.w3.org/2000/svg";
const shape = (name, values) => {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
  return made;
};
// Both directions have a scale of their own: a board is too long for a phone.
const scale = () => {
  const [width, length] = [rough(fieldOf("width").value), rough(fieldOf("length").value)];
  const bare = /^[\d ./-]*$/.test(fieldOf("length").value) && form.dataset.unit === "in" && length <= 20;
  return { width, length: bare ? length * 12 : length };
};
function draw() {
  const { width, length } = scale();
  const known = width > 0 && length > 0;
  outline.replaceChildren(shape("rect", { class: "board", x: 2, y: 2, width: 296, height: 76 }));
  for (const [x0, x1, y0, y1] of known ? defects : []) {
    outline.append(shape("rect", {
      class: "defect", x: 2 + x0 / length * 296, width: (x1 - x0) / length * 296,
      y: 78 - y1 / width * 76, height: (y1 - y0) / width * 76,
    }));
  }
  if (corner) {
    const [x, y] = [2 + corner[0] / length * 296, 78 - corner[1] / width * 76];
    outline.append(shape("path", { class: "first", d: `M${x - 5} ${y}h10M${x} ${y - 5}v10` }));
  }
  byId("defects").textContent = defects.length ? cell() : known ? "none" : "type width and length first";
}
const step = (value) => Math.round(value * (form.dataset.unit === "in" ? 4 : 0.2)) / (form.dataset.unit === "in" ? 4 : 0.2);
const unit = () => (form.dataset.unit === "in" ? "in" : "mm");
const cell = () => defects.map(([x0, x1, y0, y1]) => `${x0}${unit()}..${x1}${unit()}@${y0}${unit()}..${y1}${unit()}`).join("; ");
outline.addEventListener("click", (event) => {
  const { width, length } = scale();
  if (!(width > 0 && length > 0)) return;
  const box = outline.getBoundingClientRect();
  const at = (share, most) => Math.min(Math.max(share, 0), 1) * most;
  const x = at(((event.clientX - box.left) / box.width * 300 - 2) / 296, length);
  const y = at((78 - (event.clientY - box.top) / box.height * 80) / 76, width);
  if (!corner) {
    corner = [x, y];
  } else {
    const [x0, x1] = [Math.min(corner[0], x), Math.max(corner[0], x)].map(step);
    const [y0, y1] = [Math.min(corner[1], y), Math.max(corner[1], y)].map(step);
    corner = null;
    if (x1 > x0 && y1 > y0) defects.push([x0, Math.min(x1, length), y0, Math.min(y1, width)]);
    else say("The two taps lie on one spot: tap two corners of the defect.");
  }
  draw();
});
byId("no-defect").addEventListener("click", () => { if (corner) corner = null; else defects.pop(); draw(); });

function nextName() {
  const numbers = kept.boards.map((board) => Number(board.cells[0])).filter(Number.isInteger);
  return String(Math.max(0, ...numbers) + 1);
}

// Sends what waits, the first first; what cannot be sent waits on.
let sending = false;
async function sendAll() {
  if (sending) return;
  sending = true;
  let again = false;
  try {
    while (kept.waiting.length) {
      const board = boardOf(kept.waiting[0]);
      const asked = board && board.decided;
      if (board) {
        const answer = await fetch("yard/board", {
          method: "POST", headers: { "Content-Type": "application/json" },
          body: JSON.stringify({ id: board.id, cells: board.cells, decided: board.decided, dealer: board.dealer }),
        });
        if (answer.ok) {
          const { decided, ...rest } = await answer.json();
          Object.assign(board, rest, { fault: "" });
        } else if (answer.status >= 500 || answer.status === 403) {
          throw new Error("refused");
        } else {
          board.fault = await answer.text();
        }
        // Decided anew while it was on its way: it goes once more.
        if (board.decided !== asked) continue;
      }
      kept.waiting.shift();
      keep();
      show();
    }
    const answer = await fetch("yard/list");
    if (answer.ok) merge(await answer.json());
    // What was decided while the list was asked for goes at once.
    again = kept.waiting.length > 0;
    if (!again) say("");
  } catch {
    say(`No line to the program: ${kept.waiting.length} board${kept.waiting.length === 1 ? " waits" : "s wait"} on this phone.`);
    setTimeout(sendAll, 3000);
  } finally {
    sending = false;
  }
  if (again) sendAll();
}

// What the program knows joins what the phone knows; what waits on the phone is newer.
let polling = false;
function merge(told) {
  for (const board of told.boards) {
    const own = boardOf(board.id);
    if (!own) kept.boards.push({ dealer: "", fault: "", ...board });
    else if (!kept.waiting.includes(board.id)) Object.assign(own, board);
  }
  keep();
  byId("purse").textContent = `Taken: ${told.taken} board${told.taken === 1 ? "" : "s"}, ${told.volume} ${told.volume_unit}, ${told.cost} ${told.currency}`;
  const needed = told.needed.length ? told.needed : [{ what: "being reckoned", parts: [] }];
  const opened = [...document.querySelectorAll("#needed details[open] summary")].map((one) => one.textContent);
  byId("needed").replaceChildren(...needed.map(({ what, parts }) => {
    const item = document.createElement("li");
    if (!parts.length) { item.textContent = what; return item; }
    const details = document.createElement("details");
    details.open = opened.includes(what);
    const list = document.createElement("ul");
    list.append(...parts.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
    details.append(Object.assign(document.createElement("summary"), { textContent: what }), list);
    item.append(details);
    return item;
  }));
  show();
  if (told.busy && !polling) {
    polling = true;
    setTimeout(() => { polling = false; sendAll(); }, 700);
  }
}

let shownId = null;
function show() {
  const board = shownId && boardOf(shownId);
  verdict.hidden = !board || board.decided !== "open";
  if (board && board.decided === "open") {
    const words = { take: "Take", maybe: "Maybe", leave: "Leave" };
    const waits = kept.waiting.includes(board.id);
    verdict.querySelector(".word").textContent = board.fault ? "Cannot be read" : words[board.advice] || (waits ? "Not judged yet" : "Being reckoned");
    const why = board.fault
      || (board.advice ? `Board ${board.cells[0]}: worth ${board.worth}, asked ${board.asked} ${form.dataset.currency}. ${board.pieces ? "It gives " + board.pieces + "." : "Nothing wanted comes out of it."}` : waits ? "It is kept on this phone." : "");
    verdict.querySelector(".why").textContent = why;
    for (const button of verdict.querySelectorAll("button")) button.disabled = Boolean(board.fault);
  }
  const words = { open: "not decided", taken: "taken", left: "left" };
  const lines = kept.boards.filter((one) => one.decided !== "undone").map((one) => {
    const line = document.createElement("li");
    const asked = one.asked ? `, ${one.asked}` : "";
    const waits = kept.waiting.includes(one.id) ? ", waits to be sent" : "";
    line.textContent = `${one.cells[0]}: ${one.cells[1]} ${one.cells[2]} ${one.cells[3]}, ${one.cells[4]} x ${one.cells[5]}${asked}: ${one.fault ? "not stored: " + one.fault : words[one.decided]}${waits}`;
    if (one.decided === "open" && one.id !== shownId) {
      const look = Object.assign(document.createElement("button"), { type: "button", textContent: "Look again" });
      look.addEventListener("click", () => { shownId = one.id; show(); verdict.scrollIntoView(); });
      line.append(" ", look);
    }
    return line;
  });
  byId("boards").replaceChildren(...lines.reverse());
  byId("undo").disabled = lines.length === 0;
}

function queue(board) {
  if (!kept.waiting.includes(board.id)) kept.waiting.push(board.id);
  keep();
  show();
  sendAll();
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const value = (name) => (fieldOf(name).value || "").trim();
  if (!value("width") || !value("length")) { say("Type the width and the length first."); return; }
  const cells = COLUMNS.map((name) => (name === "defects" ? cell() : name === "board" ? value("board") || nextName() : value(name)));
  const open = shownId && boardOf(shownId);
  // A board that could not be read is mended, not sent as another one.
  const board = open && open.fault ? open : { id: newId(), decided: "open", fault: "" };
  Object.assign(board, { cells, dealer: value("dealer"), decided: "open", fault: "", advice: null });
  if (!kept.boards.includes(board)) kept.boards.push(board);
  shownId = board.id;
  queue(board);
  verdict.scrollIntoView({ block: "center" });
});

for (const button of verdict.querySelectorAll("[data-decide]")) {
  button.addEventListener("click", () => {
    const board = boardOf(shownId);
    board.decided = button.dataset.decide;
    shownId = null;
    defects = [];
    corner = null;
    for (const name of ["width", "length", "value", "board"]) fieldOf(name).value = "";
    select(fieldOf("width"));
    draw();
    queue(board);
    form.scrollIntoView();
  });
}

// The last decision is taken back first; a board that nothing is decided about goes.
byId("undo").addEventListener("click", () => {
  const last = kept.boards.filter((board) => board.decided !== "undone").pop();
  if (!last) return;
  if (last.decided === "open") {
    last.decided = "undone";
    if (shownId === last.id) shownId = null;
  } else {
    last.decided = "open";
    shownId = last.id;
  }
  queue(last);
});

byId("finish").addEventListener("click", async () => {
  if (kept.waiting.length) { say("Some boards wait to be sent: the tally is written when they are."); sendAll(); return; }
  try {
    const answer = await fetch("yard/finish", { method: "POST", headers: { "Content-Type": "application/json" }, body: "{}" });
    if (!answer.ok) { say(await answer.text()); return; }
    say("The tally is written; its cutting is being planned.");
    const watch = async () => {
      const state = await (await fetch("run")).json();
      if (state.running) setTimeout(watch, 700);
      else if (state.failed) say(state.failed);
      else location.reload();
    };
    watch();
  } catch {
    say("No line to the program: try again when it is back.");
  }
});

window.addEventListener("online", sendAll);
draw();
show();
sendAll();
