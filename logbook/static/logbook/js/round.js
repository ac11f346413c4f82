/* The round page: keys, instant marks, the minute of each panel group, a draft until it is saved.
   The marks come from the same limits as the server's, the questions (questions.js) from the same
   expected values; the server decides when it is saved. */
(() => {
  const DRAFTS = "round/";
  const saved = document.querySelector("[data-saved]");
  if (saved) pageStore.forget(DRAFTS + saved.dataset.saved);
  const form = document.querySelector("[data-round]");
  const cells = [...document.querySelectorAll("[data-cell]")];
  if (cells.length) moveWithEnter();
  if (!form) return;

  const marks = new Map(
    [...document.querySelector("[data-marks]").content.querySelectorAll("[data-level]")]
      .map((mark) => [mark.dataset.level, mark]),
  );
  const codes = { "/": "not-running", "*": "meter-faulty", "-": "not-accessible", "+": "not-read" };
  const confirmed = "=";
  const number = /^([<>~]?)\s*([-−–]?\d+(?:[.,]\d+)?|[.,]\d+)\s*([^\d\s<>~?*+-]*(?:\/[a-zA-Z]+)?)\s*([-+?*]?)$/;

  for (const cell of cells) {
    cell.facts = JSON.parse(cell.dataset.facts);
    cell.addEventListener("input", () => { noteMinute(cell); mark(cell); });
    cell.addEventListener("focus", () => cell.select());
  }
  const questions = roundQuestions(cells, { read, drawMark, programme });
  form.addEventListener("input", keepDraft);
  form.addEventListener("change", keepDraft);
  for (const choice of programmes()) choice.addEventListener("change", showProgramme);
  document.addEventListener("keydown", shortKeys);
  restore();
  questions.ask();

  function moveWithEnter() {
    for (const [place, cell] of cells.entries()) {
      cell.addEventListener("keydown", (event) => {
        if (event.key !== "Enter" || event.isComposing) return;
        event.preventDefault();
        const next = cells[place + 1] || cell.form.querySelector(".main-action");
        next.focus();
      });
    }
  }

  function shortKeys(event) {
    if (event.ctrlKey || event.altKey || event.metaKey || event.shiftKey) return;
    if (event.key === "F2") {
      event.preventDefault();
      const choices = programmes();
      const now = choices.findIndex((choice) => choice.checked);
      choices[(now + 1) % choices.length].checked = true;
      showProgramme();
      keepDraft();
    } else if (event.key === "F4") {
      event.preventDefault();
      document.querySelector("[data-state]").click();
    }
  }

  function programmes() { return [...form.querySelectorAll("[name=modulation]")]; }

  function programme() {
    const chosen = programmes().find((choice) => choice.checked);
    return chosen ? chosen.value : "on";
  }

  function band(cell) { return cell.facts.bands[programme()]; }

  function showProgramme() {
    for (const cell of cells) {
      const edges = band(cell);
      for (const place of cell.closest("tr").querySelectorAll("[data-edge]")) {
        const value = edges[Number(place.dataset.edge)];
        place.textContent = value === null ? "" : value.toFixed(cell.facts.decimals);
      }
      mark(cell);
    }
    questions.ask();
  }

  /* The number that a cell says, as the server will read it; null where it says none. */
  function read(cell) {
    const text = cell.value.trim(), isConfirmed = text.endsWith(confirmed);
    const { low, full, unit } = cell.facts;
    const parts = number.exec(isConfirmed ? text.slice(0, -confirmed.length).trim() : text);
    if (!parts || (parts[3] && parts[3].toLowerCase() !== unit.toLowerCase())) return null;
    const value = Number(parts[2].replace(",", ".").replace(/[−–]/, "-"));
    const bound = [parts[1], parts[4]].map((sign) => ({ ">": ">", "+": ">", "<": "<", "-": "<" })[sign]).find(Boolean) || "";
    if (full !== null && !bound && (value < low || value > full)) return null;
    return { value, bound, isConfirmed, isDoubtful: parts[1] === "~" || /[?*]/.test(parts[4]) };
  }

  /* What a typed text is called, as the server will call it. */
  function level(cell) {
    const text = cell.value.trim();
    if (!text) return "";
    if (codes[text]) return codes[text];
    const reading = read(cell);
    if (!reading) return "to-re-read";
    const { low, step, floor, live } = cell.facts, { value, bound } = reading;
    const beyond = beyondLimits(band(cell), value, bound);
    if (beyond) return beyond;
    if (bound === ">" && live) return "warning-high";
    if (reading.isConfirmed) return "confirmed";
    if (reading.isDoubtful) return "doubtful";
    if (floor !== null && Math.abs(value) > floor) return "doubtful";
    const steps = step ? (value - low) / step : 0;
    if (!bound && Math.abs(steps - Math.round(steps)) > 0.001) return "doubtful";
    if (live && value !== 0 && Math.abs(value) < bottom(cell, value)) return "bottom-of-scale";
    const hasLimits = band(cell).some((edge, place) => place !== 2 && edge !== null);
    return hasLimits ? "normal" : "no-reference";
  }

  /* Below it the scale on which a value is read can hardly be read. */
  function bottom(cell, value) {
    const { bottoms } = cell.facts;
    const range = bottoms.find(([full]) => value <= full) || bottoms.at(-1);
    return range ? range[1] : 0;
  }

  function beyondLimits([lowAlarm, lowWarning, , highWarning, highAlarm], value, bound) {
    if (highAlarm !== null && (value >= highAlarm || bound === ">")) return "alarm-high";
    if (lowAlarm !== null && (value <= lowAlarm || bound === "<")) return "alarm-low";
    if (highWarning !== null && (value >= highWarning || bound === ">")) return "warning-high";
    if (lowWarning !== null && (value <= lowWarning || bound === "<")) return "warning-low";
    return "";
  }

  /* What the server said of the text before says nothing of this one. */
  function mark(cell) {
    drawMark(cell);
    for (const sentence of cell.closest("tr").querySelectorAll("[data-sentence]")) sentence.hidden = true;
  }

  function drawMark(cell) {
    const place = cell.closest("tr").querySelector("[data-mark]");
    const found = level(cell);
    const isQuiet = ["normal", "no-reference", "bottom-of-scale"].includes(found);
    const shown = marks.get(isQuiet && questions.isAsked(cell) ? "doubtful" : found);
    place.replaceChildren(...(shown ? [shown.cloneNode(true)] : []));
  }

  /* A panel group was read when its first cell is typed; the round, when the first of all is. */
  function noteMinute(cell) {
    const group = cell.closest("[data-group]").querySelector("[name^=seen-]");
    if (!group.value && !isFarSlot()) group.value = utcClock();
    const round = form.elements.observed;
    if (!form.dataset.begun && form.dataset.fresh === "yes" && round.value && round.value === round.defaultValue) round.value = utcClock();
    form.dataset.begun = "yes";
  }

  function isFarSlot() { return !form.elements.observed.defaultValue; }

  function utcClock() { return document.querySelector("[data-clock=UTC]").textContent; }

  function draftKey() { return DRAFTS + form.dataset.draft; }

  function keepDraft() { pageStore.keep(draftKey(), form); }

  function restore() {
    const values = pageStore.kept(draftKey());
    if (!values || form.dataset.fresh !== "yes") return;
    if (!Object.entries(values).some(([name, value]) => name.startsWith("cell-") && value)) return;
    for (const [name, value] of Object.entries(values)) {
      if (form.elements[name]) form.elements[name].value = value;
    }
    form.dataset.begun = "yes";
    showProgramme();
    const notice = document.querySelector("[data-restored]");
    notice.hidden = false;
    notice.querySelector("[data-discard]").addEventListener("click", () => {
      pageStore.forget(draftKey());
      location.reload();
    });
  }
})();
