// The panel of a picked segment, the loop's calls, the list of segments and the legend.
const byId = (id) => document.getElementById(id);

function verdictWord(verdict, share) {
  const word = SITE.verdicts[verdict].word;
  return el("span", { class: "v " + word }, share === null ? word : word + " " + figure(share, 2));
}

// --- the picked segment ---

/** Pick a segment (null for none); `move` brings the panel to the eye and the focus to it. */
function pick(segment, move) {
  choice.picked = segment;
  markPicked(segment);
  const panel = byId("panel");
  panel.hidden = segment === null;
  if (segment === null) return;
  showPanel(segment);
  if (!move) return;
  panel.focus({ preventScroll: true });
  bringUp(panel);
  const box = L.latLngBounds(lines[segment].getLatLngs());
  if (!MAP.getBounds().contains(box)) MAP.panTo(box.getCenter());
}

/** Scroll the margin, not the page, where the margin scrolls by itself. */
function bringUp(part) {
  const margin = part.closest(".margin");
  if (getComputedStyle(margin).overflowY === "auto") margin.scrollTop += part.getBoundingClientRect().top - margin.getBoundingClientRect().top - 8;
  else part.scrollIntoView({ block: "start" });
}

function showPanel(segment) {
  const shown = worst(segment);
  const way = shown.key % WAYS;
  const setup = SITE.setups[Math.floor(shown.key / WAYS)];
  byId("panel-head").replaceChildren(data(nameOf(segment)));
  byId("panel-body").replaceChildren(
    facts(segment),
    el("p", { class: "for" }, "For ", el("b", {}, data(setup ? setup.name : "no set-up")), ", driven " + SITE.ways[way] + " the line" + whyThis(segment), ...(choice.weather === null ? [] : [", under ", data(weatherOf(choice.weather).name)]), ": ", verdictWord(shown.verdict, shown.share)),
    ...(setup ? setup.warnings.map((warning) => el("p", { class: "warn" }, data(warning))) : []),
    profileFor(segment, shown.key, way),
    ...weatherTable(segment, shown.key),
    poseFigure(segment, shown.key),
    ...planList(segment, shown.key),
    ...stoppingWords(segment, shown.key),
    ...passingList(segment, shown.key),
    ...waterList(segment, shown.key),
    checksTable(segment, shown.key),
  );
}

/** Say when the set-up or the direction was not chosen but is the severest. */
function whyThis(segment) {
  const oneWay = waysOf(segment).length === 1;
  if (choice.setup !== null && oneWay) return choice.way === AS_THE_LOOP ? " (as the loop runs)" : "";
  return choice.setup === null && !oneWay ? " (the severest of all set-ups, both ways)" : choice.setup === null ? " (the severest of all set-ups)" : " (the severer way)";
}

function facts(segment) {
  const tenth = (column, digits, unit) => (SEG[column][segment] === null ? "–" : figure(SEG[column][segment] / 10, digits) + unit);
  const rows = [
    ["Id", data(SEG.id[segment])],
    ["Length", metres(SEG.length[segment] / 10)],
    ["Rise, fall", tenth("rise", 0, " m") + ", " + tenth("fall", 0, " m")],
    ["Grade with the line", tenth("lowest", 1, "°") + " to " + tenth("steepest", 1, "°")],
    ["Side slope", "up to " + tenth("side", 1, "°")],
    ["Width", tenth("width", 1, " m")],
    ["Surface", data(SEG.surface[segment] || "not recorded")],
    ["Status", SEG.status[segment]],
    ["Surveyed", data(SEG.surveyed[segment] || "no date")],
    ["Heights known", SEG.coverage[segment] + " %"],
  ];
  return el("dl", { class: "facts" }, ...rows.map(([term, value]) => el("div", {}, el("dt", {}, term), el("dd", {}, value))));
}

function profileFor(segment, key, way) {
  const judged = judgedUnder(key, choice.weather);
  const row = choice.check === null ? null : SITE.details.rows[segment].find((one) => one[0] === key && one[1] === choice.check);
  const check = choice.check === null ? judged?.c[segment] ?? -1 : choice.check;
  const at = row ? row[6] : judged && check === judged.c[segment] && judged.at[segment] >= 0 ? judged.at[segment] : null;
  const words = check < 0 || at === null ? "" : "worst: " + SITE.checks[check] + " at " + metres(at / 10);
  return drawProfile(segment, way, at === null ? null : at / 10, words);
}

// --- the list ---

const PAGE = 60;
let shown = PAGE;

function plain(words) {
  return words.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
}

const HAYSTACK = SEG.id.map((id, segment) => plain(id + " " + SEG.name[segment]));

function wanted() {
  const needle = plain(byId("find").value.trim());
  const only = byId("only").value;
  const rows = [];
  for (let segment = 0; segment < COUNT; segment += 1) {
    if (needle && !HAYSTACK[segment].includes(needle)) continue;
    const judged = worst(segment);
    if (only === "" || judged.verdict === Number(only)) rows.push({ segment, ...judged });
  }
  return rows.sort(ORDERS[byId("order").value]);
}

const byName = (a, b) => nameOf(a.segment).localeCompare(nameOf(b.segment), undefined, { numeric: true }) || a.segment - b.segment;
const ORDERS = {
  severity: (a, b) => b.verdict - a.verdict || (b.share ?? -1) - (a.share ?? -1) || byName(a, b),
  name: byName,
  length: (a, b) => SEG.length[b.segment] - SEG.length[a.segment] || byName(a, b),
};

function showList() {
  const rows = wanted();
  byId("list").replaceChildren(...rows.slice(0, shown).map(listRow));
  byId("more").hidden = rows.length <= shown;
  byId("count").textContent = rows.length + " of " + COUNT + " segments" + (rows.length > shown ? ", the first " + shown + " shown" : "");
}

function listRow(row) {
  const button = el("button", { type: "button", "data-segment": row.segment },
    swatch(row),
    el("span", { class: "who" }, data(nameOf(row.segment)), el("small", {}, metres(SEG.length[row.segment] / 10) + (SEG.status[row.segment] === "open" ? "" : ", " + SEG.status[row.segment]))),
    verdictWord(row.verdict, row.share));
  button.addEventListener("click", () => pick(row.segment, true));
  return el("li", {}, button);
}

/** A short piece of line, drawn as on the map. */
function swatch(judged) {
  const stroke = strokeOf(judged);
  const rail = (options) => svg("line", { x1: 1, x2: 43, y1: 8, y2: 8, ...options });
  const out = svg("svg", { viewBox: "0 0 44 16", width: 44, height: 16, "aria-hidden": "true", class: "swatch" },
    rail({ stroke: stroke.color, "stroke-width": stroke.weight, "stroke-dasharray": stroke.dashArray }));
  if (judged.verdict === BARRED) out.append(rail({ stroke: INK, "stroke-width": 10, "stroke-dasharray": BARS }));
  if (judged.verdict === UNKNOWN) out.append(rail({ stroke: "#ffffff", "stroke-width": 4 }));
  return out;
}

// --- the legend ---

function drawLegend() {
  const wide = 360, step = wide / SITE.ramp.length;
  const ramp = svg("svg", { viewBox: "0 0 400 44", role: "img", class: "ramp" }, svg("title", {}, "Utilisation from 0, pale, to 1 and over, dark"));
  SITE.ramp.forEach((fillColour, i) => ramp.append(svg("rect", { x: 12 + i * step, y: 4, width: step + 0.5, height: 18, fill: fillColour })));
  ramp.append(svg("rect", { x: 12, y: 4, width: wide, height: 18, fill: "none", stroke: INK }));
  [0, 0.2, 0.4, 0.6, 0.8, 1].forEach((value) => ramp.append(svg("text", { x: 12 + wide * value, y: 38, "text-anchor": "middle" }, value === 1 ? "1 +" : String(value))));
  byId("ramp").append(ramp);
  SITE.verdicts.forEach((verdict, i) => {
    const share = [0.3, 0.65, 0.9, null, 1.2][i];
    byId("patterns").append(el("li", {}, swatch({ verdict: i, share }), el("span", {}, el("b", {}, verdict.word), ": " + verdict.means + " (" + verdict.pattern + ")")));
  });
  const kinds = [...new Set(SITE.places.map((thing) => thing.kind))].filter((kind) => SIGNS[kind]);
  byId("signs").replaceChildren(...kinds.map((kind) => el("li", {}, el("span", { class: "thing", "aria-hidden": "true" }, SIGNS[kind]), kind)));
  byId("signs-head").hidden = !kinds.length;
}
