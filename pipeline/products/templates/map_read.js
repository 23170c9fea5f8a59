"use strict";
// Reads the site's data block. Every text in it is shown by textContent, never as markup.
const SITE = JSON.parse(document.getElementById("site-data").textContent);
const SEG = SITE.segments;
const COUNT = SEG.id.length;
const WAYS = 2;
const UNKNOWN = 3;   // place of "unsurveyed" among the verdicts
const BARRED = 4;
const INK = "#1a1a1a";
const GREY = "#6b6b6b";
const WEATHER = SITE.outlooks.all;

/** Undo integer steps: first value, then differences; null where a value is not known. */
function fromSteps(steps, unit) {
  let sum = 0;
  return steps.map((step) => (step === null ? null : (sum += step) / unit));
}

/** Latitude and longitude of every vertex of a segment. */
function latLngs(segment) {
  const steps = SEG.line[segment];
  const out = [];
  let lon = 0, lat = 0;
  for (let i = 0; i < steps.length; i += 2) {
    lon += steps[i];
    lat += steps[i + 1];
    out.push([lat / 1e6, lon / 1e6]);
  }
  return out;
}

/** Chainage, height, grade and side slope along a segment, as recorded (not turned). */
function profileOf(segment) {
  const coded = SEG.profile[segment];
  const length = SEG.length[segment] / 10;
  const z = fromSteps(coded.z, 100);
  const last = z.length - 1;
  return {
    length,
    at: z.map((_, i) => (i === last ? length : (i * coded.d) / 1000)),
    z,
    grade: fromSteps(coded.g, 10),
    side: fromSteps(coded.s, 10),
  };
}

const AS_THE_LOOP = -1;  // a choice of direction: each segment as the shown loop drives it

/** What has been chosen; null stands for "all", "either", "the deciding check" or "the weather of the day". */
const choice = { setup: null, way: null, check: null, loop: null, weather: null, picked: null };

/** Verdicts of a key (2 × set-up + direction) under a weather; null for that of the day. */
function judgedUnder(key, weather) {
  return weather === null ? SITE.judged[key] : WEATHER[weather].judged[key];
}

/** Verdict of one segment for a key: number of the verdict and utilisation. */
function verdictAt(segment, key, weather) {
  return verdictIn(segment, key, choice.check === null ? judgedUnder(key, weather) : SITE.by_check[key * SITE.checks.length + choice.check]);
}

/** The same by the check that decides, whatever is chosen. */
function verdictUnder(segment, key, weather) {
  return verdictIn(segment, key, judgedUnder(key, weather));
}

/** The same out of a table of verdicts. */
function verdictIn(segment, key, table) {
  const code = table.v.charCodeAt(segment) - 48;
  const share = table.u[segment];
  return { key, verdict: code > BARRED ? UNKNOWN : code, share: share < 0 ? null : share / 100 };
}

/** The directions that count for a segment: as chosen; as the loop drives it, both where it does not drive it. */
function waysOf(segment) {
  if (choice.way !== null && choice.way !== AS_THE_LOOP) return [choice.way];
  const legs = choice.way === null || choice.loop === null ? [] : SITE.loops[choice.loop].legs;
  const driven = [0, 1].filter((way) => legs.some((leg) => leg[0] === segment && leg[1] === way));
  return driven.length ? driven : [0, 1];
}

/** The keys that the choice of set-up and direction leaves for a segment. */
function keys(segment) {
  const setups = choice.setup === null ? SITE.setups.map((_, i) => i) : [choice.setup];
  const ways = waysOf(segment);
  return setups.flatMap((setup) => ways.map((way) => setup * WAYS + way));
}

/** The severest verdict over the chosen set-ups and directions; of equals, the largest utilisation. */
function worst(segment, weather = choice.weather) {
  let out = null;
  for (const key of keys(segment)) {
    const one = verdictAt(segment, key, weather);
    const severer = out === null || one.verdict > out.verdict;
    const more = out !== null && one.verdict === out.verdict && (one.share ?? -1) > (out.share ?? -1);
    if (severer || more) out = one;
  }
  return out ?? { key: 0, verdict: UNKNOWN, share: null };
}

/** A sentence, put together from its saying and its figures. */
function reasonOf(sayings, saying, coded) {
  const figures = coded === "" ? [] : coded.split(" ");
  return sayings[saying].map((piece, i) => piece + (figures[i] ?? "")).join("");
}

/** A number as people write it, with a true minus; an en dash where there is none. */
function figure(value, digits) {
  if (value === null || value === undefined) return "–";
  const shown = value.toFixed(digits);
  return (Number(shown) === 0 ? shown.replace("-", "") : shown).replace("-", "−");
}

/** A utilisation, rounded up: an overrun never reads as 1.00. */
function utilised(share) {
  return share === null || share === undefined ? "–" : figure(Math.ceil(share * 100 - 1e-6) / 100, 2);
}

/** A duration in words. */
function minutes(value) {
  return value < 60 ? value + " min" : Math.floor(value / 60) + " h " + String(value % 60).padStart(2, "0") + " min";
}

/** A length in words. */
function metres(value) {
  if (value === null || value === undefined) return "–";
  return Math.abs(value) < 999.5 ? figure(value, 0) + " m" : figure(value / 1000, 2) + " km";
}

/** Make an element: attributes, then children (texts become text nodes). */
function el(name, attributes = {}, ...children) {
  const node = document.createElement(name);
  fill(node, attributes, children);
  return node;
}

/** The same for SVG. */
function svg(name, attributes = {}, ...children) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", name);
  fill(node, attributes, children);
  return node;
}

function fill(node, attributes, children) {
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== false) node.setAttribute(key, value === true ? "" : value);
  }
  for (const child of children) {
    node.append(child);
  }
}

/** A text from the data, kept apart from the direction of the writing round it. */
function data(text) {
  return el("bdi", {}, text);
}

/** What a segment is called. */
function nameOf(segment) {
  return SEG.name[segment] || SEG.id[segment];
}
