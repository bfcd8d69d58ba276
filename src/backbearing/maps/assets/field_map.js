"use strict";
/* On the map: stands as corrected, and where the receiver says one is. */
function fieldMap(field, stands) {
  const groups = {};
  const quiet = { interactive: false, weight: 2, fill: false };
  function fresh(name) {
    groups[name] ??= L.layerGroup().addTo(map_ground);
    groups[name].clearLayers();
    return groups[name];
  }
  return {
    follow() {
      // The map's panes are made after this; it is called again then.
      if (!map_ground.getPane("arcs")) return;
      const group = fresh("corrected");
      for (const turn of field.turns) {
        if (!stands.known || !stands.corrected(turn.index)) continue;
        const stand = stands.at(turn.steps_s.for, turn.index);
        if (!stand || !Number.isFinite(stand.lat)) continue;
        const from = [turn.stand.lat, turn.stand.lon], to = [stand.lat, stand.lon];
        L.polyline([from, to], { ...quiet, className: "corrected-way", pane: "arcs" }).addTo(group);
        L.circleMarker(to, { ...quiet, radius: 9, className: "corrected-stand", pane: "arcs" }).addTo(group);
      }
    },
    here(at, error_m) {
      const group = fresh("here"), spot = [at.lat, at.lon];
      L.circle(spot, { ...quiet, radius: error_m, className: "here-error", pane: "arcs" }).addTo(group);
      L.circleMarker(spot, { ...quiet, radius: 5, className: "here-spot", pane: "arcs" }).addTo(group);
    },
  };
}
