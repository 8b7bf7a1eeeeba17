// The map: coordinates, layers, the cross for the keyboard, and where one pointed.

import L from 'leaflet';
import { el } from './dom.js';
import { between, turned } from './ground.js';
import { CoverageLayer } from './coverage.js';
import { Marks } from './marks.js';

// The raster's own cells are the map's coordinates (longitude is the column, latitude the negative
// row), so that a point on the screen belongs to exactly one cell. Two steps of zoom double the
// scale; at zoom 0 a row is `unit` pixels high.
function cellSystem(ground, unit) {
  const { grid } = ground;
  const stretch = grid.acrossM / grid.downM;
  return L.extend({}, L.CRS.Simple, {
    transformation: new L.Transformation(stretch * unit, (stretch * unit) / 2, -unit, unit / 2),
    scale: (zoom) => 2 ** (zoom / 2),
    zoom: (scale) => 2 * Math.log2(scale),
    distance: (a, b) =>
      between(ground.position(a.lng, -a.lat), ground.position(b.lng, -b.lat)).distanceM,
    pixelsPerCell(zoom) {
      const scale = this.scale(zoom) * unit;
      return { x: stretch * scale, y: scale };
    },
  });
}

export const pointOf = ({ column, row }) => L.latLng(-row, column);
const cellAt = (latlng) => ({ column: latlng.lng, row: -latlng.lat });

function rectangleOf(left, top, right, bottom) {
  return L.latLngBounds(pointOf({ column: left, row: bottom }), pointOf({ column: right, row: top }));
}

// The largest scale at which the whole map fits into its element.
function fittingUnit(element, grid) {
  const border = element.clientWidth < 600 ? 22 : 26;
  const stretch = grid.acrossM / grid.downM;
  return Math.max(
    Math.min(
      (element.clientWidth - 2 * border) / (grid.columns * stretch),
      (element.clientHeight - 2 * border) / grid.rows,
    ),
    0.01,
  );
}

// What lies over what, from below.
const levels = { contours: 401, graticule: 402, links: 410, way: 610, marks: 620, labels: 640, pointed: 660 };
const inert = (pane) => ({ interactive: false, pane });

// Who hears whom: a whole line where both do, a broken one with an arrow head where one does.
function linkLayer(data) {
  const layer = L.layerGroup();
  for (const pair of data.pairs) {
    const both = pair.aHearsB.heard && pair.bHearsA.heard;
    if (!both && !pair.aHearsB.heard && !pair.bHearsA.heard) {
      continue;
    }
    const ends = [data.stations[pair.a], data.stations[pair.b]].map(pointOf);
    L.polyline(ends, { ...inert('links'), className: 'link-rim', weight: 6 }).addTo(layer);
    L.polyline(ends, { ...inert('links'), className: both ? 'link' : 'link one-way', weight: 2.5 }).addTo(layer);
    if (!both) {
      // The arrow points at the one who hears.
      const [talker, listener] = pair.bHearsA.heard ? ends : [...ends].reverse();
      layer.addLayer(arrow(talker, listener));
    }
  }
  return layer;
}

function arrow(talker, listener) {
  const share = 0.6;
  const at = L.latLng(
    talker.lat + share * (listener.lat - talker.lat),
    talker.lng + share * (listener.lng - talker.lng),
  );
  const head = el('span', { class: 'arrow' }, '\u25b6');
  const marker = L.marker(at, {
    ...inert('links'),
    keyboard: false,
    icon: L.divIcon({ html: head, className: 'mark', iconSize: [0, 0] }),
  });
  marker.on('add', () => {
    const map = marker._map;
    const from = map.latLngToLayerPoint(talker);
    const to = map.latLngToLayerPoint(listener);
    head.style.transform = `translate(-50%, -50%) rotate(${Math.atan2(to.y - from.y, to.x - from.x)}rad)`;
  });
  return marker;
}

// Every fifth contour is drawn stronger; all of a kind are one line for Leaflet to draw.
function contourLayer(contours) {
  const renderer = L.canvas({ padding: 0.5, pane: 'contours' });
  const kinds = [false, true].map((index) =>
    contours.lines.filter((line) => line.index === index).map(({ steps }) => {
      let column = 0;
      let row = 0;
      const points = [];
      for (let i = 0; i < steps.length; i += 2) {
        column += steps[i] / 10;
        row += steps[i + 1] / 10;
        points.push(pointOf({ column, row }));
      }
      return points;
    }),
  );
  return L.layerGroup(
    kinds.map((lines, index) =>
      L.polyline(lines, { ...inert('contours'), renderer, color: '#1c1f26', weight: index ? 1 : 0.6, opacity: index ? 0.5 : 0.38 }),
    ),
  );
}

const spacings = [10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001];

// Lines of longitude and latitude, with their values where they leave the window.
class Graticule {
  constructor(map, ground) {
    this.map = map;
    this.ground = ground;
    this.layer = L.layerGroup();
    this.values = el('div', { class: 'graticule', 'aria-hidden': 'true' });
    map.getContainer().append(this.values);
    map.on('zoomend resize', () => this.rule());
    map.on('move zoomend resize', () => this.write());
    this.layer.on('add remove', () => this.rule());
  }

  extent() {
    const { knots } = this.ground.grid;
    return {
      latitude: [Math.min(...knots.latitude), Math.max(...knots.latitude)],
      longitude: [Math.min(...knots.longitude), Math.max(...knots.longitude)],
    };
  }

  rule() {
    this.layer.clearLayers();
    this.lines = [];
    if (!this.map.hasLayer(this.layer)) {
      this.write();
      return;
    }
    const { grid } = this.ground;
    const { latitude, longitude } = this.extent();
    const { y } = this.map.options.crs.pixelsPerCell(this.map.getZoom());
    const degreesPerPixel = (latitude[1] - latitude[0]) / (grid.rows * y);
    const spacing = spacings.filter((each) => each / degreesPerPixel >= 110).pop() || spacings[0];
    const decimals = Math.max(0, -Math.floor(Math.log10(spacing) + 1e-9));
    const add = (value, along, span, point) => {
      const points = [];
      const pieces = 32;
      for (let i = 0; i <= pieces; i += 1) {
        const cell = this.ground.cell(point(span[0] + ((span[1] - span[0]) * i) / pieces));
        points.push(pointOf(cell));
      }
      L.polyline(points, { ...inert('graticule'), className: 'graticule-line', weight: 1 }).addTo(this.layer);
      this.lines.push({ points, along, text: this.words(value, along, decimals) });
    };
    const from = (span) => Math.ceil(span[0] / spacing - 1e-9);
    const to = (span) => Math.floor(span[1] / spacing + 1e-9);
    for (let n = from(longitude); n <= to(longitude); n += 1) {
      add(n * spacing, 'top', latitude, (at) => ({ latitude: at, longitude: n * spacing }));
    }
    for (let n = from(latitude); n <= to(latitude); n += 1) {
      add(n * spacing, 'left', longitude, (at) => ({ latitude: n * spacing, longitude: at }));
    }
    this.write();
  }

  words(value, along, decimals) {
    const degrees = along === 'top' ? turned(value) : value;
    const letters = along === 'top' ? 'EW' : 'NS';
    return `${Math.abs(degrees).toFixed(decimals)}\u00b0 ${degrees < 0 ? letters[1] : letters[0]}`;
  }

  // Values along the upper and the left edge of the window.
  write() {
    this.values.replaceChildren();
    const size = this.map.getSize();
    for (const { points, along, text } of this.lines || []) {
      const pixels = points.map((point) => this.map.latLngToContainerPoint(point));
      const [main, other, length] = along === 'top' ? ['x', 'y', size.x] : ['y', 'x', size.y];
      // Where the line crosses the edge, or where it begins if that is inside.
      const ordered = pixels[0][other] < pixels[pixels.length - 1][other] ? pixels : [...pixels].reverse();
      const i = ordered.findIndex((pixel) => pixel[other] >= 0);
      if (i < 0) {
        continue;
      }
      const at = ordered[i][main];
      // Clear of the controls in the corners.
      const room = along === 'top' ? [70, length - 40] : [120, length - 90];
      if (at > room[0] && at < room[1]) {
        const value = el('span', { class: `value ${along}` }, text);
        value.style[along === 'top' ? 'left' : 'top'] = `${Math.round(at)}px`;
        this.values.append(value);
      }
    }
  }
}

export class MapView {
  // `onPoint` is called with {column, row} where somebody points.
  constructor(element, data, ground, onPoint) {
    this.ground = ground;
    const { grid } = ground;
    const most = 5; // times doubling beyond one screen pixel for each cell
    const unit = fittingUnit(element, grid);
    this.bounds = rectangleOf(-0.5, -0.5, grid.columns - 0.5, grid.rows - 0.5);
    this.map = L.map(element, {
      crs: cellSystem(ground, unit),
      minZoom: -2,
      maxZoom: Math.max(6, Math.round(2 * (most - Math.log2(unit)))),
      maxBounds: this.bounds.pad(0.35),
      maxBoundsViscosity: 0.7,
      wheelPxPerZoomLevel: 90,
      zoomControl: false,
      attributionControl: false,
    });
    this.map.setView(this.bounds.getCenter(), 0);
    for (const [name, level] of Object.entries(levels)) {
      this.map.createPane(name).style.zIndex = level;
    }
    L.control.zoom({ zoomInTitle: 'Zoom in', zoomOutTitle: 'Zoom out' }).addTo(this.map);
    L.control.scale({ maxWidth: 140, metric: true, imperial: true }).addTo(this.map);
    element.append(el('div', { class: 'cross', 'aria-hidden': 'true' }));

    this.coverage = new CoverageLayer(data).addTo(this.map);
    L.rectangle(this.bounds, { ...inert('graticule'), className: 'neatline', weight: 1.5, fill: false }).addTo(this.map);
    const onMap = (mark) => ground.has(mark.column, mark.row);
    const marks = new Marks(this.map, data.stations.filter(onMap), data.places.filter(onMap), pointOf, this.bounds);
    this.layers = {
      contours: data.contours ? contourLayer(data.contours) : L.layerGroup(),
      graticule: new Graticule(this.map, ground).layer,
      links: linkLayer(data),
      places: marks.layers.place,
      stations: marks.layers.station,
    };
    this.map.on('zoomend', () => this.turnArrows());
    this.pointed = L.layerGroup().addTo(this.map);
    this.map.on('click', (event) => onPoint(cellAt(event.latlng)));
    // The cross is for those who use the keyboard; Leaflet focuses the map on a click too.
    for (const [happening, byKeyboard] of [['keydown', true], ['pointerdown', false]]) {
      document.addEventListener(happening, () => element.classList.toggle('by-keyboard', byKeyboard), true);
    }
    element.addEventListener('keydown', (event) => {
      if ((event.key === 'Enter' || event.key === ' ') && event.target === element) {
        event.preventDefault();
        onPoint(cellAt(this.map.getCenter()));
      }
    });
  }

  // Arrow heads are turned when they are added; a zoom keeps every direction as it is.
  turnArrows() {
    if (this.map.hasLayer(this.layers.links)) {
      this.map.removeLayer(this.layers.links).addLayer(this.layers.links);
    }
  }

  show(name, shown) {
    if (name === 'coverage' || name === 'relief') {
      this.coverage.show(name, shown);
    } else if (shown) {
      this.map.addLayer(this.layers[name]);
    } else {
      this.map.removeLayer(this.layers[name]);
    }
  }

  // Frames the cell that was read and draws the way to a station.
  mark(column, row, station) {
    this.pointed.clearLayers();
    if (station) {
      const ends = [pointOf({ column, row }), pointOf(station)];
      L.polyline(ends, { ...inert('way'), className: 'way-rim', weight: 5 }).addTo(this.pointed);
      L.polyline(ends, { ...inert('way'), className: 'way', weight: 2 }).addTo(this.pointed);
    }
    const cell = rectangleOf(column - 0.5, row - 0.5, column + 0.5, row + 0.5);
    L.rectangle(cell, { ...inert('pointed'), className: 'cell', weight: 1.5 }).addTo(this.pointed);
    L.circleMarker(pointOf({ column, row }), { ...inert('pointed'), className: 'pointer-rim', radius: 8, weight: 5 }).addTo(this.pointed);
    L.circleMarker(pointOf({ column, row }), { ...inert('pointed'), className: 'pointer', radius: 8, weight: 2 }).addTo(this.pointed);
  }

  // Brings a cell into the window if it is not well inside.
  bring(column, row) {
    const at = pointOf({ column, row });
    if (!this.map.getBounds().pad(-0.1).contains(at)) {
      this.map.panTo(at);
    }
  }
}
