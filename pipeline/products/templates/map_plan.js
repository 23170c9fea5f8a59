// Tight places from above: how the set-up passes them, drawn to scale, driven to the right; and its way on the map.
const PLAN = { width: 400, most: 420, largest: 56, side: 0.9, end: 0.35, head: 40, foot: 64, letter: 7.6 };
const WHEEL = 0, SILL = 1, MIRROR = 2, ROOF = 3;
const FROM_REAR = 2;  // the front wheels are the first two boxes
const SIDES = ["left", "right"];
const EDGE = -1, ELSEWHERE = -1;
const BODY = 4;  // the body at its full width stands behind the wheels

/** Points from their steps in cm, in m. */
function planPoints(steps) {
  let x = 0, y = 0;
  return steps.reduce((out, step, i) => {
    if (i % 2 === 0) x += step;
    else out.push([x / 100, (y += step) / 100]);
    return out;
  }, []);
}

/** Poses from their steps: rear axle in m, angles in rad. */
function planPoses(steps) {
  const sum = [0, 0, 0, 0, 0], out = [];
  for (let i = 0; i < steps.length; i += 5) {
    for (let k = 0; k < 5; k += 1) sum[k] += steps[i + k];
    const [heading, steer, lean] = sum.slice(2).map((tenths) => (tenths * Math.PI) / 1800);
    out.push({ at: [sum[0] / 100, sum[1] / 100], heading, steer, lean });
  }
  return out;
}

/** The tight places of a segment for a key (2 × set-up + direction), as met; lengths in metres. */
function placesOf(segment, key) {
  return SITE.plans.rows[segment].filter((row) => row[0] === key).map((row) => {
    const [, number, at, lon, lat, way, poses, tightest, sides, shapes, edges, missing, shunt, saying, figures] = row;
    return {
      number, at: at / 10, origin: [lon / 1e7, lat / 1e7], way: planPoints(way), poses: planPoses(poses), tightest,
      sides: sides.map((side) => side && planSide(side)),
      shapes: shapes.map(([ax, ay, bx, by, radius, low, thing]) => ({ ends: [[ax / 100, ay / 100], [bx / 100, by / 100]], radius: radius / 100, low: low / 100, thing })),
      edges: edges.map(([side, whole, steps]) => ({ side, whole: whole === 1, points: planPoints(steps) })),
      missing: missing / 1000, shunt, advice: reasonOf(SITE.plans.sayings, saying, figures),
    };
  });
}

function planSide([pose, ax, ay, bx, by, gap, part, thing, at]) {
  return { pose, body: [ax / 100, ay / 100], beside: [bx / 100, by / 100], gap: gap / 1000, part, thing, at: at / 10 };
}

/** The least room of a place on either side, m; null where nothing stands. */
function leastRoom(place) {
  const gaps = place.sides.filter(Boolean).map((side) => side.gap);
  return gaps.length ? Math.min(...gaps) : null;
}

/** A gap in words, cut off so that it never reads as more than it is. */
function gapWords(gap) {
  const hundredths = Math.floor(gap * 100 + 1e-6);
  return hundredths < 0 ? figure(-hundredths / 100, 2) + " m short" : figure(hundredths / 100, 2) + " m";
}

function sideWords(side, i) {
  const where = side.pose === ELSEWHERE ? " at " + metres(side.at) : "";
  const thing = side.thing === EDGE ? "edge of the trail" : SITE.plans.things[side.thing][1];
  return SIDES[i] + " " + gapWords(side.gap) + where + ": " + SITE.plans.parts[side.part] + " to " + thing;
}

/** All tight places of a segment: the tightest open, the others to be opened. */
function planList(segment, key) {
  const places = placesOf(segment, key);
  if (!places.length) return SITE.plans.note ? [el("p", { class: "note" }, SITE.plans.note)] : [];
  const room = (place) => (place.missing > 0 ? -place.missing : leastRoom(place) ?? Infinity);
  const tightest = places.reduce((one, other) => (room(other) < room(one) ? other : one));
  return [el("section", { class: "plans" }, el("h3", {}, "Tight places from above, as met"),
    ...places.map((place) => planEntry(place, key, place === tightest)),
    el("p", { class: "note" }, "Drawn to scale, driven to the right. Pale: what the body sweeps, an outline every half metre; thick outlines: the poses that come nearest; dashed box: the roof. Line with an arrowhead: middle of the front axle; dots: middle of the rear axle. Edges: unbroken where the whole body must stay inside, dashed where the tyres must."))];
}

function planEntry(place, key, open) {
  const room = leastRoom(place);
  const short = place.missing > 0 ? "none passes, " + figure(Math.ceil(place.missing * 100 - 1e-6) / 100, 2) + " m missing" : room === null ? "" : "least room " + gapWords(room);
  return el("details", { class: "place-plan", open, "data-place": place.number },
    el("summary", {}, el("b", {}, "At " + metres(place.at)), short ? ": " + short : ""),
    el("p", { class: place.missing > 0 ? "warn" : "advice" }, data(place.advice), /[.!?]$/.test(place.advice) ? "" : "."),
    planPicture(place, SITE.setups[Math.floor(key / WAYS)].plan));
}

// --- the drawing ---

/** Where a point of the body lies in a pose, in the frame of the plan. */
function inPose(pose, [x, y]) {
  const cos = Math.cos(pose.heading), sin = Math.sin(pose.heading);
  return [pose.at[0] + x * cos - y * sin, pose.at[1] + x * sin + y * cos];
}

/** Corners of a box of the body in a pose, seen from above: a body that leans covers what its foot and its top cover. */
function boxCorners(pose, [part, rear, front, right, left, low, high], steered) {
  const metre = (value) => value / 1000;
  if (part === WHEEL) {
    const [x, y] = [metre(rear + front) / 2, metre(right + left) / 2], [long, wide] = [metre(front - rear) / 2, metre(left - right) / 2];
    const turn = steered ? pose.steer : 0, cos = Math.cos(turn), sin = Math.sin(turn);
    return [[long, wide], [long, -wide], [-long, -wide], [-long, wide]].map(([u, v]) => inPose(pose, [x + u * cos - v * sin, y + u * sin + v * cos]));
  }
  const shifts = [low, high].map((z) => -metre(z) * Math.sin(pose.lean));
  const [from, to] = [metre(right) + Math.min(...shifts), metre(left) + Math.max(...shifts)];
  return [[front, to], [front, from], [rear, from], [rear, to]].map(([x, y]) => inPose(pose, [metre(x), y]));
}

/** The sides whose nearest pose is drawn. */
function drawnSides(place) {
  return place.sides.filter((side) => side && side.pose !== ELSEWHERE);
}

/** Turns the plan so that the tightest pose drives to the right, and scales it to the picture. */
function planView(place, boxes) {
  const turn = place.poses[place.tightest].heading, cos = Math.cos(turn), sin = Math.sin(turn);
  const turned = ([x, y]) => [x * cos + y * sin, y * cos - x * sin];
  const points = [
    ...place.poses.flatMap((pose) => boxes.flatMap((box, i) => boxCorners(pose, box, i < FROM_REAR))),
    ...drawnSides(place).map((side) => side.beside),
  ].map(turned);
  const [us, vs] = [points.map((point) => point[0]), points.map((point) => point[1])];
  const left = Math.min(...us) - PLAN.end, top = Math.max(...vs) + PLAN.side;
  const long = Math.max(...us) + PLAN.end - left, wide = top - Math.min(...vs) + PLAN.side;
  const scale = Math.min(PLAN.width / long, PLAN.most / wide, PLAN.largest);
  const width = long * scale, shift = (PLAN.width - width) / 2;
  const at = (point) => {
    const [u, v] = turned(point);
    return [shift + (u - left) * scale, PLAN.head + (top - v) * scale];
  };
  return { scale, at, north: turned([0, 1]), height: wide * scale };
}

function planPicture(place, boxes) {
  const view = planView(place, boxes);
  const name = "plan-" + place.number;
  const words = [...place.sides.map((side, i) => side && sideWords(side, i)), place.missing > 0 ? "none passes" : ""].filter(Boolean);
  const picture = svg("svg", { viewBox: "0 0 " + PLAN.width + " " + Math.ceil(PLAN.head + view.height + PLAN.foot), role: "img", class: "plan", "aria-labelledby": name + "-title " + name + "-words" },
    svg("title", { id: name + "-title" }, "Seen from above, driven to the right"), svg("desc", { id: name + "-words" }, words.length ? words.join("; ") + "." : "Nothing stands beside it."));
  const frame = svg("svg", { x: 0, y: PLAN.head, width: PLAN.width, height: view.height.toFixed(1), viewBox: "0 " + PLAN.head + " " + PLAN.width + " " + view.height.toFixed(1) });
  picture.append(frame);
  planGround(frame, place, view);
  planSweep(frame, place, boxes, view);
  planWays(frame, place, view);
  planBodies(frame, place, boxes, view);
  planShapes(frame, place, view);
  place.sides.forEach((side, i) => side && planGap(picture, frame, side, i, view));
  planFurniture(picture, view);
  return picture;
}

/** The trail between its edges, where both are known, and the edges. */
function planGround(frame, place, view) {
  const [left, right] = [0, 1].map((side) => place.edges.filter((edge) => edge.side === side));
  if (left.length === 1 && right.length === 1) {
    frame.append(svg("polygon", { points: path([...left[0].points, ...[...right[0].points].reverse()].map(view.at)), class: "ground-fill" }));
  }
  for (const edge of place.edges) frame.append(svg("polyline", { points: path(edge.points.map(view.at)), class: "edge " + (edge.whole ? "whole" : "tyres"), "data-side": SIDES[edge.side] }));
}

/** What the body covers on its way: every outline filled, then every outline drawn. */
function planSweep(frame, place, boxes, view) {
  for (const kind of ["swept", "outline"]) {
    for (const pose of place.poses) {
      frame.append(svg("polygon", { points: path(boxCorners(pose, boxes[BODY]).map(view.at)), class: kind }));
    }
  }
}

/** Ways of the front axle, with an arrowhead, and of the rear axle. */
function planWays(frame, place, view) {
  const way = place.way.map(view.at), [before, end] = way.slice(-2);
  frame.append(svg("polyline", { points: path(way), class: "way front" }), svg("polyline", { points: path(place.poses.map((pose) => view.at(pose.at))), class: "way rear" }));
  if (before) frame.append(planArrow(inside(way, view) ?? end, Math.atan2(end[1] - before[1], end[0] - before[0])));
}

/** The last place of a way that the picture shows. */
function inside(way, view) {
  for (let i = way.length - 1; i > 0; i -= 1) {
    for (let part = 0; part < 1; part += 0.02) {
      const [x, y] = [0, 1].map((k) => way[i][k] + part * (way[i - 1][k] - way[i][k]));
      if (x > 8 && x < PLAN.width - 8 && y > PLAN.head + 8 && y < PLAN.head + view.height - 8) return [x, y];
    }
  }
  return null;
}

function planArrow([x, y], turn) {
  return svg("path", { d: "M6 0 L-5 5 L-2 0 L-5 -5 Z", transform: "translate(" + x.toFixed(1) + " " + y.toFixed(1) + ") rotate(" + ((turn * 180) / Math.PI).toFixed(1) + ")", class: "way-head" });
}

/** The tightest pose with all its parts; of the poses that come nearest on a side the body and the part that does. */
function planBodies(frame, place, boxes, view) {
  for (const side of drawnSides(place).filter((one) => one.pose !== place.tightest)) planBody(frame, place.poses[side.pose], boxes.map((box) => (box[0] === SILL || box[0] === side.part ? box : null)), view);
  planBody(frame, place.poses[place.tightest], boxes, view);
}

/** A pose: body, mirrors, roof, wheels as steered. */
function planBody(frame, pose, boxes, view) {
  const names = ["tyre", "hull", "mirror", "roof"];
  for (const part of [SILL, MIRROR, ROOF, WHEEL]) {
    boxes.forEach((box, i) => {
      if (box && box[0] === part) frame.append(svg("polygon", { points: path(boxCorners(pose, box, i < FROM_REAR).map(view.at)), class: names[part] }));
    });
  }
}

/** What stands there: full from the ground up, pale and dashed overhead. */
function planShapes(frame, place, view) {
  for (const shape of place.shapes) {
    const [[x1, y1], [x2, y2]] = shape.ends.map(view.at);
    const wide = Math.max(2 * shape.radius * view.scale, 5);
    const kind = shape.low > 0 ? "overhead" : "solid";
    const line = (extra) => svg("line", { x1: x1.toFixed(1), y1: y1.toFixed(1), x2: (x2 + 0.01).toFixed(2), y2: y2.toFixed(1), ...extra });
    frame.append(line({ class: kind, "stroke-width": wide.toFixed(1) }));
    if (kind === "overhead") frame.append(line({ class: "overhead-core", "stroke-width": Math.max(wide - 3, 1).toFixed(1) }));
    const middle = PLAN.head + view.height / 2;
    const [x, y] = Math.abs(y1 - middle) < Math.abs(y2 - middle) ? [x1, y1] : [x2, y2];
    if (shape.thing !== EDGE) frame.append(svg("text", { x: x.toFixed(1), y: (y + 4.5).toFixed(1), "text-anchor": "middle", class: "sign " + kind }, SITE.plans.things[shape.thing][0]));
  }
}

/** A gap: a thick line between body and thing, with its figure above (left) or below (right); one elsewhere is told only. */
function planGap(picture, frame, side, i, view) {
  if (side.pose === ELSEWHERE) return planLabel(picture, side, i, PLAN.width / 2, view);
  const [from, to] = [view.at(side.body), view.at(side.beside)];
  const [x, y] = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];
  const line = (a, b, kind) => svg("line", { x1: a[0].toFixed(1), y1: a[1].toFixed(1), x2: b[0].toFixed(1), y2: b[1].toFixed(1), class: kind, "data-side": SIDES[i] });
  const foot = PLAN.head + view.height;
  frame.append(line(from, to, side.gap < 0 ? "gap short" : "gap"));
  picture.append(line([x, y], [x, i === 0 ? PLAN.head - 10 : foot + 8], "leader"));
  return planLabel(picture, side, i, x, view);
}

/** The figure of a gap, as near to x as the picture leaves it room. */
function planLabel(picture, side, i, x, view) {
  const words = sideWords(side, i), half = (words.length * PLAN.letter) / 2;
  const middle = Math.max(Math.min(x, PLAN.width - half - 4), half + 4);
  label(picture, middle, i === 0 ? PLAN.head - 16 : PLAN.head + view.height + 22, words, "middle", "strong");
}

/** Scale, north, and the way it is driven. */
function planFurniture(picture, view) {
  const y = PLAN.head + view.height + PLAN.foot - 10;
  scaleBar(picture, 8, y, view.scale, "1 m");
  const turn = (Math.atan2(-view.north[1], view.north[0]) * 180) / Math.PI;
  picture.append(svg("path", { d: "M-9 0 H5 M9 0 L2 -4 V4 Z", transform: "translate(150 " + (y - 5) + ") rotate(" + turn.toFixed(1) + ")", class: "north-mark" }));
  label(picture, 164, y, "north");
  label(picture, PLAN.width - 62, y, "driven this way", "end");
  picture.append(svg("path", { d: "M" + (PLAN.width - 56) + " " + (y - 4) + " h38 v-5 l12 5 l-12 5 v-5", class: "heading" }));
}

// --- the ways on the map, near enough to be told from the trail ---

const WAYS_FROM = 17;

/** Latitude and longitude of a point of a plan. */
function planLatLng(place, [x, y]) {
  const [lonEast, latEast, lonNorth, latNorth] = SITE.plans.frame.map((part) => part / 1e12);
  return [place.origin[1] + x * latEast + y * latNorth, place.origin[0] + x * lonEast + y * lonNorth];
}

/** Draw the ways past tight places for what is chosen, each on the segments in view. */
function drawWays() {
  ROOM.clearLayers();
  if (MAP.getZoom() < WAYS_FROM || SITE.large) return;
  const view = MAP.getBounds();
  for (let segment = 0; segment < COUNT; segment += 1) {
    if (!SITE.plans.rows[segment].length || !view.intersects(lines[segment].getBounds())) continue;
    const key = worst(segment).key, body = SITE.setups[Math.floor(key / WAYS)].body;
    for (const place of placesOf(segment, key)) drawWay(segment, { ...place, wide: body.width / 1000 });
  }
}

function drawWay(segment, place) {
  const points = place.way.map((point) => planLatLng(place, point));
  const passes = place.missing === 0;
  const pixels = 1 / MAP.containerPointToLatLng([0, 0]).distanceTo(MAP.containerPointToLatLng([1, 0]));
  ROOM.addLayer(line(points, "over", { color: "#ffffff", weight: Math.max(place.wide * pixels, 9) + 2, lineCap: "round" }));
  ROOM.addLayer(line(points, "over", { color: "#bdb7a8", weight: Math.max(place.wide * pixels, 9), lineCap: "round" }));
  ROOM.addLayer(line(points, "over", { color: INK, weight: 3, dashArray: passes ? null : "3 4", className: passes ? "room-way" : "room-way none" }));
  const spot = L.circleMarker(planLatLng(place, [0, 0]), { pane: "touch", renderer: surface("touch"), radius: 8, color: INK, weight: 2.5, fillColor: "#ffffff", fillOpacity: 1, className: "room-spot" });
  const room = leastRoom(place);
  spot.bindTooltip(() => el("div", {}, el("b", {}, "Tight place at " + metres(place.at)), el("br"), passes ? (room === null ? "" : "least room " + gapWords(room)) : "none passes", el("br"), data(place.advice)), { direction: "top", opacity: 1, className: "hint" });
  spot.on("click", () => {
    pick(segment, true);
    const own = document.querySelector('#panel .place-plan[data-place="' + place.number + '"]');
    if (own) own.open = true;
    if (own) bringUp(own);
  });
  ROOM.addLayer(spot);
}
