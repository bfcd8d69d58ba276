// The land all round as it stands before the subject's sky: azimuth across, altitude up.
import { ask } from "/script/ask.js";
import { guarded, state, turn } from "/script/desk.js";
import { element, widthOf } from "/script/profile.js";

const box = document.getElementById("ridge");
const HIGH = 140;
const UNDER = 24;
const NAMES = { 0: "N", 45: "NE", 90: "E", 135: "SE", 180: "S", 225: "SW", 270: "W", 315: "NW" };
let told = null;
let mark = null;

// As wide as the target's way and what stands beside it, a quarter of the round at least.
function edges(path) {
  const up = path.filter(([, , altitude]) => altitude > -2);
  if (up.length === 0) return [0, 360];
  const first = up[0][1];
  const turns = up.map(([, azimuth]) => ((azimuth - first + 540) % 360) - 180);
  const [low, high] = [Math.min(...turns), Math.max(...turns)];
  const spare = Math.max(15, (90 - (high - low)) / 2);
  if (high - low + 2 * spare >= 360) return [0, 360];
  return [first + low - spare, first + high + spare];
}

function draw() {
  if (!told || !state.night) return;
  const wide = widthOf(box);
  const [left, right] = edges(told.path);
  const across = (azimuth) => ((((azimuth - left) % 360) + 360) % 360) / (right - left) * wide;
  const known = told.ridge_deg.filter((v) => v !== null);
  const top = Math.max(20, Math.ceil((Math.max(0, ...known, ...told.path.map((p) => p[2])) + 5) / 10) * 10);
  const up = (altitude) => HIGH - (Math.max(-2, altitude) + 2) / (top + 2) * (HIGH - 8);
  const picture = element("svg", { viewBox: `0 0 ${wide} ${HIGH + UNDER}`, role: "img", "aria-label": said(left, right, top) });
  for (let h = 10; h < top; h += top > 50 ? 20 : 10) {
    picture.append(element("line", { x1: 0, x2: wide, y1: up(h), y2: up(h), class: "grid" }));
    picture.append(element("text", { x: 4, y: up(h) - 3, class: "high" }, `${h}°`));
  }
  const land = [];
  for (let azimuth = left; azimuth <= right + 1e-6; azimuth += told.step_deg / 2) {
    const place = (((azimuth % 360) + 360) % 360) / told.step_deg;
    const [a, b] = [told.ridge_deg[Math.floor(place) % told.ridge_deg.length], told.ridge_deg[Math.ceil(place) % told.ridge_deg.length]];
    const height = a === null || b === null ? null : a + (b - a) * (place - Math.floor(place));
    land.push([(azimuth - left) / (right - left) * wide, height === null ? HIGH : up(height)]);
  }
  const rim = land.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");
  picture.append(element("path", { d: way(across, up, wide), class: "way" }));
  picture.append(element("polygon", { points: `0,${HIGH} ${rim} ${wide},${HIGH}`, class: "land" }));
  for (const [azimuth, name] of Object.entries(NAMES)) {
    const x = across(Number(azimuth));
    if (x >= 0 && x <= wide) picture.append(element("text", { x: Math.min(wide - 12, Math.max(10, x)), y: HIGH + 17, "text-anchor": "middle", class: "where" }, name));
  }
  mark = element("circle", { r: 6, class: "at" });
  picture.append(mark);
  box.replaceChildren(picture);
  box.at = { across, up };
  follow();
}

// Broken where it leaves the window on one side: a line back across the picture is no path.
function way(across, up, wide) {
  let last = null;
  return told.path.filter(([, , h]) => h > -2).map(([, azimuth, h]) => {
    const x = across(azimuth);
    const on = last !== null && Math.abs(x - last) < wide / 2;
    last = x;
    return `${on ? "L" : "M"}${x.toFixed(1)} ${up(h).toFixed(1)}`;
  }).join("");
}

function said(left, right, top) {
  const highest = Math.max(...told.ridge_deg.filter((v) => v !== null), 0);
  return `The land from the subject, azimuths ${Math.round((left + 360) % 360)} to ${Math.round((right + 360) % 360)}, altitudes to ${top} degrees, with the target's path; the highest land all round stands at ${highest.toFixed(1)} degrees.`;
}

function place(time) {
  const next = told.path.findIndex(([t]) => t >= time);
  if (next <= 0) return told.path[Math.max(0, next)];
  const [a, b] = [told.path[next - 1], told.path[next]];
  const share = (time - a[0]) / (b[0] - a[0]);
  return [time, a[1] + ((((b[1] - a[1] + 540) % 360) - 180) * share), a[2] + (b[2] - a[2]) * share];
}

function follow() {
  if (!told || !mark || state.time === null) return;
  const [, azimuth, altitude] = place(state.time);
  mark.setAttribute("cx", box.at.across(azimuth));
  mark.setAttribute("cy", box.at.up(altitude));
}

box.addEventListener("pointerdown", nearest);
box.addEventListener("pointermove", (event) => event.buttons && nearest(event));

// A press turns to the minute at which the target is nearest to it.
function nearest(event) {
  if (!told || !box.at) return;
  const edge = box.getBoundingClientRect();
  const scale = widthOf(box) / edge.width;
  const [x, y] = [(event.clientX - edge.left) * scale, (event.clientY - edge.top) * scale];
  const off = ([, a, h]) => Math.hypot(box.at.across(a) - x, box.at.up(h) - y);
  const best = told.path.reduce((one, other) => (off(other) < off(one) ? other : one));
  turn(Math.min(state.night.end, Math.max(state.night.start, Math.round(best[0] / 60) * 60)));
}

document.addEventListener("desk-night", guarded(async ({ detail }) => {
  const found = await ask("ridge", "/api/ridge", { changes: detail.changes });
  if (!found) return;
  told = found;
  draw();
}));
document.addEventListener("desk-turn", follow);
window.addEventListener("resize", draw);
