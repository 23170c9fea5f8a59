// Draws the trails: colour by utilisation, pattern and width by verdict, white casing under all.
const MAP = map_site;
const TRAILS = feature_group_trails;
const COURSE = feature_group_course;
const ROOM = feature_group_room;
const THINGS = feature_group_things;
const BARS = "2 9";  // crossbars of what is barred
const LOOP_COLOUR = "#d55e00";
const lines = [];
const touch = [];
const over = { casing: null, bars: null, hollow: null };
let pickedRail = null;

for (const [name, order, still] of [["picked", 402, true], ["course", 404, true], ["casing", 406, true], ["trail", 408, false], ["over", 410, true], ["touch", 412, false]]) {
  const pane = MAP.createPane(name);
  pane.style.zIndex = order;
  if (still) pane.style.pointerEvents = "none";
}

/** A drawing surface for each pane: on a canvas only the trails' own takes the pointer. */
const surfaces = {};
function surface(pane) {
  if (!surfaces[pane]) surfaces[pane] = SITE.large ? L.canvas({ pane, tolerance: 10 }) : L.svg({ pane });
  return surfaces[pane];
}

function line(points, pane, options) {
  return L.polyline(points, { pane, renderer: surface(pane), interactive: false, lineCap: "butt", lineJoin: "round", ...options });
}

/** Colour of a utilisation: ten steps, the last for 1 and over. */
function rampColour(share) {
  return SITE.ramp[Math.floor(Math.min(Math.max(share, 0), 0.999) * SITE.ramp.length)];
}

function strokeOf(judged) {
  const verdict = SITE.verdicts[judged.verdict];
  const own = judged.verdict === BARRED ? INK : judged.verdict === UNKNOWN || judged.share === null ? GREY : rampColour(judged.share);
  return { color: own, weight: verdict.width, dashArray: verdict.dash.length ? verdict.dash.join(" ") : null };
}

/** Lines grow with the zoom: far out they must not run into each other. */
function girth() {
  return Math.min(Math.max((MAP.getZoom() - 13) / 3.5, 0.5), 1);
}

function drawTrails() {
  const all = SEG.id.map((_, segment) => latLngs(segment));
  over.casing = line(all, "casing", { color: "#ffffff", weight: 11, opacity: 0.92 });
  if (COUNT) TRAILS.addLayer(over.casing);
  all.forEach((points, segment) => {
    const trail = line(points, "trail", { interactive: SITE.large });
    lines.push(trail);
    TRAILS.addLayer(trail);
    const target = SITE.large ? trail : line(points, "touch", { interactive: true, weight: 26, opacity: 0, className: "touch" });
    touch.push(target);
    if (!SITE.large) TRAILS.addLayer(target);
    target.on("click", () => pick(segment, true));
    target.bindTooltip(() => hint(segment), { sticky: true, direction: "top", opacity: 1, className: "hint" });
  });
  over.bars = line([], "over", { color: INK, weight: 10, dashArray: BARS }).addTo(TRAILS);
  over.hollow = line([], "over", { color: "#ffffff", weight: 4 }).addTo(TRAILS);
}

/** Bring the whole network into view. */
function showAll() {
  const all = L.latLngBounds(lines.flatMap((trail) => trail.getLatLngs()));
  if (all.isValid()) MAP.fitBounds(all, { padding: [24, 24] });
  else MAP.setView([0, 0], 1);
}

/** One tab stop for all trails; arrow keys walk through them, Enter or space opens one. */
function makeFocusable() {
  touch.forEach((target, segment) => {
    const path = target.getElement();
    if (!path) return;
    path.setAttribute("role", "button");
    path.setAttribute("tabindex", segment === 0 ? "0" : "-1");
    path.dataset.segment = String(segment);
    path.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      if (event.key === "Enter" || event.key === " ") pick(segment, true);
      else if (step) focusTrail((segment + step + COUNT) % COUNT);
      else return;
      event.preventDefault();
      event.stopPropagation();
    });
  });
}

function focusTrail(segment) {
  touch.forEach((target, i) => target.getElement()?.setAttribute("tabindex", i === segment ? "0" : "-1"));
  touch[segment].getElement()?.focus();
}

/** What stands beside the pointer over a trail. */
function hint(segment) {
  const judged = worst(segment);
  const share = judged.share === null ? "" : " " + figure(judged.share, 2);
  return el("div", {}, el("b", {}, data(nameOf(segment))), el("br"), SITE.verdicts[judged.verdict].word + share + ", " + metres(SEG.length[segment] / 10) + (SEG.status[segment] === "open" ? "" : ", " + SEG.status[segment]));
}

/** Give every trail its colour, width and pattern for what is chosen now. */
function recolour() {
  const bars = [], hollow = [];
  const wide = girth();
  for (let segment = 0; segment < COUNT; segment += 1) {
    const judged = worst(segment);
    const stroke = strokeOf(judged);
    lines[segment].setStyle({ ...stroke, weight: stroke.weight * wide, opacity: SEG.status[segment] === "open" ? 1 : 0.45 });
    if (judged.verdict === BARRED) bars.push(lines[segment].getLatLngs());
    if (judged.verdict === UNKNOWN) hollow.push(lines[segment].getLatLngs());
    touch[segment].getElement?.()?.setAttribute("aria-label", nameOf(segment) + ", " + SITE.verdicts[judged.verdict].word);
  }
  over.bars.setLatLngs(bars).setStyle({ weight: 10 * wide });
  over.hollow.setLatLngs(hollow).setStyle({ weight: 4 * wide });
  over.casing.setStyle({ weight: 11 * wide });
}

/** Two rails round the picked trail. */
function markPicked(segment) {
  pickedRail?.forEach((rail) => TRAILS.removeLayer(rail));
  pickedRail = null;
  if (segment === null) return;
  const points = lines[segment].getLatLngs();
  pickedRail = [line(points, "picked", { color: INK, weight: 21, lineCap: "round" }), line(points, "picked", { color: "#ffffff", weight: 16, lineCap: "round" })];
  pickedRail.forEach((rail) => TRAILS.addLayer(rail));
}

// --- the loop: a broad band under the trails, arrows the way it is driven, numbered calls ---

function drawLoop(loop) {
  COURSE.clearLayers();
  if (loop === null) return;
  const points = loopPoints(loop);
  COURSE.addLayer(line(points, "course", { color: LOOP_COLOUR, weight: 19 * girth(), opacity: 0.62, lineCap: "round" }));
  drawArrows(points);
  drawDetours(loop);
  loop.calls.forEach((call) => COURSE.addLayer(callMark(call)));
  declutter();
}

function loopPoints(loop) {
  return pointsOf(loop.legs);
}

function pointsOf(legs) {
  return legs.flatMap(([segment, way]) => (way === 0 ? latLngs(segment) : latLngs(segment).reverse()));
}

/** Ways round in short dashes, where they leave and come back, and the last place to turn back. */
function drawDetours(loop) {
  for (const one of loop.detours) {
    const points = pointsOf(one.legs);
    if (points.length) COURSE.addLayer(line(points, "course", { color: LOOP_COLOUR, weight: 19 * girth(), opacity: 0.62, dashArray: "9 11" }));
    drawArrows(points);
  }
  for (const [words, lonlat] of loop.named) {
    COURSE.addLayer(mark([lonlat[1], lonlat[0]], el("span", { class: "place named" }, words), 0, { keyboard: false, interactive: false, alt: words }));
  }
}

/** Arrowheads about every 90 pixels of the loop as it stands on the screen. */
function drawArrows(points) {
  const pixels = points.map((point) => MAP.latLngToLayerPoint(point));
  let run = 0, next = 45;
  for (let i = 1; i < pixels.length; i += 1) {
    const step = pixels[i].subtract(pixels[i - 1]);
    const long = Math.hypot(step.x, step.y);
    while (long > 0 && run + long >= next) {
      const place = pixels[i - 1].add(step.multiplyBy((next - run) / long));
      const turn = (Math.atan2(step.y, step.x) * 180) / Math.PI;
      COURSE.addLayer(mark(MAP.layerPointToLatLng(place), arrow(turn), 18, { interactive: false, keyboard: false, zIndexOffset: -500 }));
      next += 90;
    }
    run += long;
  }
}

function arrow(turn) {
  return svg("svg", { viewBox: "-9 -9 18 18", width: 18, height: 18, "aria-hidden": "true" },
    svg("path", { d: "M7 0 L-5 5.5 L-2 0 L-5 -5.5 Z", transform: "rotate(" + turn.toFixed(1) + ")", fill: LOOP_COLOUR, stroke: "#fff", "stroke-width": 1.4, "stroke-linejoin": "round" }));
}

function mark(place, element, size, options) {
  return L.marker(place, { icon: L.divIcon({ html: element, className: "mark", iconSize: [size, size] }), ...options });
}

function callMark(call) {
  const face = el("span", { class: call.spotter ? "call spotter" : "call" }, String(call.n));
  const title = "Call " + call.n + " at " + metres(call.at);
  const made = mark([call.lonlat[1], call.lonlat[0]], face, 26, { title, alt: title });
  made.bindTooltip(() => el("div", {}, el("b", {}, title), el("br"), data(call.coming)), { direction: "top", offset: [0, -12], opacity: 1, className: "hint" });
  made.on("click", () => showCall(call.n));
  return made;
}

// --- obstacles and places ---

const SIGNS = { rock: "R", log: "L", step: "S", hole: "H", ditch: "D", rut: "U", tree: "T", post: "P", branch: "B", gap: "G", water: "W", soft: "F", note: "n" };
const PLACES = { turnround: "turn", trailhead: "start", muster: "muster", exit: "exit" };

function drawThings() {
  for (const thing of SITE.places) {
    const at = [thing.lonlat[1], thing.lonlat[0]];
    const label = thing.kind + (thing.name ? " " + thing.name : "");
    let made;
    if (PLACES[thing.kind]) {
      made = mark(at, el("span", { class: "place " + thing.kind }, PLACES[thing.kind]), 0, { keyboard: false, alt: label });
    } else if (SITE.large) {
      made = L.circleMarker(at, { pane: "trail", renderer: surface("trail"), radius: 4, color: INK, weight: 1, fillColor: "#fff", fillOpacity: 1 });
    } else {
      made = mark(at, el("span", { class: "thing" }, SIGNS[thing.kind] ?? "?"), 18, { keyboard: false, alt: label });
    }
    made.bindTooltip(() => thingHint(thing), { direction: "top", offset: [0, -8], opacity: 1, className: "hint" });
    THINGS.addLayer(made);
  }
}

function thingHint(thing) {
  const out = el("div", {}, el("b", {}, thing.kind));
  if (thing.name) out.append(" ", data(thing.name));
  for (const [key, value] of Object.entries(thing.size)) {
    out.append(el("br"), key.replace(/_(m_s|m)$/, "").replace(/_/g, " ") + " " + figure(value, 2) + (key.endsWith("_m_s") ? " m/s" : " m"));
  }
  if (thing.note) out.append(el("br"), data(thing.note));
  return out;
}

// --- what stands too close together on the screen gives way: ways out first, then calls, what other weather changes, letters ---

const RANKS = [".place:not(.turnround):not(.named)", ".call", ".named", ".shift", ".thing", ".place"];

const LETTERS_FROM = 17;  // zoom at which a letter is about as wide as 15 m of ground: farther out it would cover the trails

function declutter() {
  const marks = [...document.querySelectorAll(".leaflet-marker-pane .mark")];
  const far = MAP.getZoom() < LETTERS_FROM;
  const ordered = RANKS.flatMap((rank) => marks.filter((one) => one.querySelector(rank)));
  const taken = [];
  for (const one of new Set(ordered)) {
    one.classList.remove("crowded");
    const box = one.firstElementChild.getBoundingClientRect();
    const meets = (other) => box.left < other.right - 3 && box.right > other.left + 3 && box.top < other.bottom - 3 && box.bottom > other.top + 3;
    if (taken.some(meets) || (far && one.querySelector(".thing"))) one.classList.add("crowded");
    else taken.push(box);
  }
}

// --- north, and a scale in metres ---

function drawFurniture() {
  const north = L.control({ position: "topleft" });
  north.onAdd = () => el("div", { class: "north", title: "North is up" },
    svg("svg", { viewBox: "0 0 24 34", width: 24, height: 34, role: "img", "aria-label": "North is up" },
      svg("path", { d: "M12 12 L19 32 L12 27 L5 32 Z", fill: INK }), svg("text", { x: 12, y: 9.5, "text-anchor": "middle", "font-size": 11, "font-weight": 700 }, "N")));
  north.addTo(MAP);
  L.control.scale({ imperial: false, maxWidth: 140 }).addTo(MAP);
}
