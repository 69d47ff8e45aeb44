// The job's pages: cells are sent when they are left, a search is watched until it ends.
"use strict";

const said = document.getElementById("said");
const say = (text) => { if (said) said.textContent = text; };

// What the server answers; a refusal is its sentence.
async function send(address, body) {
  let answer;
  try {
    answer = await fetch(address, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  } catch {
    throw new Error("The program does not answer: is it still running? Nothing was stored.");
  }
  if (!answer.ok) {
    const error = new Error(await answer.text());
    error.status = answer.status;
    throw error;
  }
  return answer.json();
}

const table = document.getElementById("table");
const undo = document.getElementById("undo");

// Faults stand beside their cells, those of no cell on the page above the table.
function tell(told) {
  const beside = document.getElementById("beside");
  beside.replaceChildren();
  for (const span of table.querySelectorAll(".fault")) span.textContent = "";
  for (const input of table.querySelectorAll("input[aria-invalid]")) input.removeAttribute("aria-invalid");
  for (const fault of told.faults) {
    const row = table.querySelector(`tr[data-line="${fault.line}"]`);
    const name = fault.column && fault.column.replace(/^.*\((.*)\)$/, "$1");
    const input = row && [...row.querySelectorAll("input")].find((one) => one.dataset.name === name);
    if (input) {
      input.setAttribute("aria-invalid", "true");
      input.setAttribute("aria-describedby", input.nextElementSibling.id);
      input.nextElementSibling.textContent = fault.text;
    } else if (row) {
      row.querySelector(".row-fault").textContent = fault.text;
    } else {
      const item = document.createElement("li");
      item.textContent = (fault.line ? `row ${fault.line}: ` : "") + fault.text;
      beside.append(item);
    }
  }
  const list = document.getElementById("warnings");
  list.replaceChildren(...told.warnings.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
  undo.disabled = told.undo === 0;
  document.getElementById("undo-count").textContent = told.undo ? `${told.undo} can be undone` : "";
  const faults = told.all === 0 ? "The job has no fault." : `The job has ${told.all} fault${told.all === 1 ? "" : "s"}.`;
  say(`Stored. ${faults}`);
}

// Changes go one after the other: the next one starts from what the last one left.
let turn = Promise.resolve();
function inTurn(work) {
  turn = turn.then(work).catch((error) => say(error.message));
  return turn;
}

if (table) {
  table.addEventListener("change", (event) => {
    const input = event.target;
    const row = input.closest("tr[data-line]");
    if (!row) return;
    const text = input.value;
    inTurn(async () => {
      const seen = JSON.parse(row.dataset.seen);
      const column = Number(input.dataset.column);
      if ((seen[column] ?? "") === text) return;
      try {
        const told = await send("table/cell", { table: table.dataset.table, line: Number(row.dataset.line), seen, column, text });
        while (seen.length <= column) seen.push("");
        seen[column] = text.trim();
        row.dataset.seen = JSON.stringify(seen);
        tell(told);
      } catch (error) {
        // What was typed stays in its cell, so that it can be copied.
        input.setAttribute("aria-invalid", "true");
        input.nextElementSibling.textContent = error.status === 409 ? "not stored" : error.message;
        const again = error.status === 409 ? " Your text is still in its cell and is not stored: copy it, load the page again, and put it in there." : "";
        throw new Error(error.message + again);
      }
    });
  });
  table.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    const row = event.target.closest("tr");
    if (!button) return;
    if (button.classList.contains("remove")) {
      inTurn(async () => {
        await send("table/remove", { table: table.dataset.table, line: Number(row.dataset.line), seen: JSON.parse(row.dataset.seen) });
        location.reload();
      });
    } else if (button.classList.contains("add")) {
      inTurn(async () => {
        await send("table/row", { table: table.dataset.table, cells: [...row.querySelectorAll("input")].map((input) => input.value) });
        location.reload();
      });
    }
  });
}

if (undo) {
  undo.addEventListener("click", () => inTurn(async () => {
    await send("table/undo", { table: undo.dataset.table });
    location.reload();
  }));
}

for (const button of document.querySelectorAll("[data-begin]")) {
  button.addEventListener("click", () => inTurn(async () => {
    await send("table/begin", { table: button.dataset.begin });
    location.href = "table?name=" + encodeURIComponent(button.dataset.begin);
  }));
}

for (const button of document.querySelectorAll("[data-add-column]")) {
  button.addEventListener("click", () => inTurn(async () => {
    await send("table/column", { table: button.dataset.table, column: button.dataset.addColumn });
    location.reload();
  }));
}

const dealer = document.getElementById("dealer");
if (dealer) {
  dealer.addEventListener("submit", (event) => {
    event.preventDefault();
    const name = `prices/${dealer.elements.dealer.value.trim()}.csv`;
    inTurn(async () => {
      await send("table/begin", { table: name });
      location.href = "table?name=" + encodeURIComponent(name);
    });
  });
}

const settings = document.getElementById("settings");
if (settings) {
  settings.addEventListener("submit", (event) => {
    event.preventDefault();
    inTurn(async () => {
      const text = document.getElementById("text").value;
      const told = await send("settings", { text, version: settings.dataset.version });
      settings.dataset.version = told.version;
      const items = told.faults.map((fault) => Object.assign(document.createElement("li"), { textContent: fault }));
      document.getElementById("beside").replaceChildren(...items);
      undo.disabled = false;
      say(told.faults.length ? "Stored, with faults." : "Stored.");
    });
  });
}

const run = document.querySelector("form.run");
if (run) {
  const [go, stop] = [run.querySelector("[type=submit]"), run.querySelector(".stop")];
  let was = false;
  const show = (state) => {
    go.disabled = state.running;
    stop.disabled = !state.running;
    const own = state.kind === run.dataset.kind;
    if (state.running) say(`${own ? "" : "Something else is being planned: "}${state.text} (${state.seconds} s)`);
    else if (own && state.failed) say(state.failed);
    if (was && !state.running && !(own && state.failed)) location.reload();
    was = state.running;
    return state.running;
  };
  const watch = async () => {
    try {
      const answer = await fetch("run");
      if (show(await answer.json())) setTimeout(watch, 500);
    } catch {
      say("The program does not answer: is it still running?");
      setTimeout(watch, 2000);
    }
  };
  run.addEventListener("submit", (event) => {
    event.preventDefault();
    inTurn(async () => {
      const { time, gap } = run.elements;
      show(await send("run", { kind: run.dataset.kind, time: Number(time.value), gap: Number(gap.value) }));
      watch();
    });
  });
  stop.addEventListener("click", () => inTurn(async () => { await send("run/stop", {}); say("Stopping with what it has."); }));
  watch();
}
