// Other weather: the choice of it, what it changes, and all of it side by side for a picked segment and a loop.
const DAY = { name: "the day", words: SITE.outlooks.day };
const SHIFTS = L.layerGroup();

/** What a weather is, in words; null stands for the day. */
function weatherOf(number) {
  return number === null ? DAY : WEATHER[number];
}

/** Fill the choice; where no other weather was asked for there is nothing to choose. */
function fillWeather() {
  byId("weather").closest("label").hidden = !WEATHER.length;
  options("weather", [["", "of the day: " + DAY.words], ...WEATHER.map((one, i) => [i, one.name + (one.name.includes(one.words) ? "" : ": " + one.words)])]);
  SHIFTS.addTo(TRAILS);
}

/** Take the choice over: only the check that decides is known of other weather. */
function chooseWeather() {
  choice.weather = numberOrNull("weather");
  byId("check").disabled = choice.weather !== null;
  if (choice.weather !== null) byId("check").value = "";
}

/** Whether a segment is worse (1) or better (-1) than on the day, for what is chosen. */
function shiftOf(segment) {
  return choice.weather === null ? 0 : Math.sign(worst(segment).verdict - worst(segment, null).verdict);
}

/** Signs beside the trails whose verdict changes, and a line on what is shown. */
function showShifts() {
  SHIFTS.clearLayers();
  const note = byId("weather-note");
  note.hidden = choice.weather === null;
  if (choice.weather === null) {
    note.replaceChildren();
    return;
  }
  const count = { 1: 0, 0: 0, "-1": 0 };
  for (let segment = 0; segment < COUNT; segment += 1) {
    const shift = shiftOf(segment);
    count[shift] += 1;
    if (shift && !SITE.large) SHIFTS.addLayer(shiftMark(segment, shift));
  }
  const one = weatherOf(choice.weather);
  note.replaceChildren(
    "Shown: ", el("b", {}, data(one.name)), ", ", data(one.words), ". ",
    "Of " + COUNT + " segments, worse than on the day ▲: " + count[1] + "; better ▽: " + count[-1] + ". Loops, calls and the figures of the checks stay those of the day.");
}

function shiftMark(segment, shift) {
  const points = lines[segment].getLatLngs();
  const place = points[Math.floor(points.length / 2)];
  return mark(place, el("span", { class: "shift" }, shift > 0 ? "▲" : "▽"), 18, { interactive: false, keyboard: false, alt: shift > 0 ? "worse than on the day" : "better than on the day" });
}

/** What decides under a weather, in a sentence; empty where the page does not carry it. */
function whyAt(number, segment, key) {
  const own = number === null ? undefined : WEATHER[number].why[segment].find((row) => row[0] === key);
  if (own) return reasonOf(SITE.outlooks.reasons, own[1], own[2]);
  const check = judgedUnder(key, number).c[segment];
  const row = SITE.details.rows[segment].find((one) => one[0] === key && one[1] === check);
  return row ? reasonOf(SITE.details.reasons, row[7], row[8]) : "";
}

/** All weathers side by side for one segment, set-up and direction. */
function weatherTable(segment, key) {
  if (!WEATHER.length) return [];
  const day = verdictUnder(segment, key, null).verdict;
  const rows = [null, ...WEATHER.keys()].map((number) => {
    const { verdict, share } = verdictUnder(segment, key, number);
    const sign = verdict > day ? "▲ worse" : verdict < day ? "▽ better" : "";
    const why = whyAt(number, segment, key);
    return el("tr", { class: number === choice.weather ? "shown" : null, "aria-current": number === choice.weather ? "true" : null },
      el("th", { scope: "row" }, data(weatherOf(number).name), el("small", {}, data(weatherOf(number).words))),
      el("td", {}, verdictWord(verdict, share), sign ? el("small", {}, sign) : ""),
      el("td", {}, why ? data(why) : ""));
  });
  const head = ["Weather", "Verdict", "What decides"];
  return [el("div", { class: "weathers" }, el("table", {},
    el("caption", {}, "The same under other weather"),
    el("thead", {}, el("tr", {}, ...head.map((word) => el("th", { scope: "col" }, word)))),
    el("tbody", {}, ...rows)),
    ...(choice.weather === null ? [] : [el("p", { class: "note" }, "All that follows is of the day.")]))];
}

/** Who can still drive a loop under other weather: who cannot, at a glance; the rest when it is opened. */
function weatherOfLoop(number) {
  if (!WEATHER.length) return [];
  const stopped = new Map();
  for (const one of WEATHER) {
    for (const [setup, drives] of one.loops[number]) if (!drives) stopped.set(setup, [...(stopped.get(setup) ?? []), one.name]);
  }
  const glance = stopped.size
    ? ["not for ", ...[...stopped].flatMap(([setup, names], i) => [i ? "; " : "", data(setup), " (", ...names.flatMap((name, k) => [k ? ", " : "", data(name)]), ")"])]
    : ["every set-up can still drive it"];
  const entries = WEATHER.map((one) => el("li", {}, el("b", {}, data(one.name)), ", ", data(one.words), ":",
    el("ul", {}, ...one.loops[number].map(([setup, drives, words]) => el("li", { class: drives ? null : "warn" }, data(setup), " ", data(words), ".")))));
  return [el("details", { class: "loop-weather" }, el("summary", {}, el("b", {}, "Under other weather: "), ...glance), el("ul", {}, ...entries))];
}
