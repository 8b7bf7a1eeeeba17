// Stations, places and their labels on the map.

import L from 'leaflet';
import { el, svg } from './dom.js';
import { placeLabels } from './labels.js';

// An antenna: a ring with its centre on the spot, and waves to both sides.
export function stationSymbol() {
  const waves = 'M15.3 2.2a10 10 0 0 1 0 11.6M2.7 13.8a10 10 0 0 1 0-11.6';
  return svg(
    'svg',
    { class: 'symbol station', viewBox: '-1 0 20 16', width: 25, height: 20, 'aria-hidden': 'true' },
    svg('path', { class: 'rim', d: waves }),
    svg('circle', { class: 'rim', cx: 9, cy: 8, r: 4.6 }),
    svg('path', { class: 'wave', d: waves }),
    svg('circle', { class: 'ring', cx: 9, cy: 8, r: 4.6 }),
    svg('circle', { class: 'dot', cx: 9, cy: 8, r: 1.9 }),
  );
}

export function placeSymbol() {
  return svg(
    'svg',
    { class: 'symbol place', viewBox: '0 0 14 14', width: 14, height: 14, 'aria-hidden': 'true' },
    svg('path', { class: 'diamond', d: 'M7 1.8L12.2 7 7 12.2 1.8 7Z' }),
  );
}

const kinds = {
  station: { symbol: stationSymbol, width: 25, height: 20, radius: 11 },
  place: { symbol: placeSymbol, width: 14, height: 14, radius: 6 },
};

function inert(html, size, pane) {
  return {
    icon: L.divIcon({ html, className: 'mark', iconSize: size, iconAnchor: [size[0] / 2, size[1] / 2] }),
    interactive: false,
    keyboard: false,
    pane,
  };
}

// The marks of both kinds as layers of the map, with labels that keep out of each other's way.
export class Marks {
  // `bounds` are those of the map: labels stay inside if they can.
  constructor(map, stations, places, pointOf, bounds) {
    this.map = map;
    this.bounds = bounds;
    this.pointOf = pointOf;
    this.layers = { station: L.layerGroup(), place: L.layerGroup() };
    this.items = [
      ...stations.map((mark) => this.add('station', mark)),
      ...places.map((mark) => this.add('place', mark)),
    ];
    map.on('zoomend viewreset layeradd layerremove resize', () => this.settleSoon());
  }

  // Layers come and go many at a time; the labels are placed once for all of them.
  settleSoon() {
    cancelAnimationFrame(this.request);
    this.request = requestAnimationFrame(() => this.settle());
  }

  add(kind, mark) {
    const { symbol, width, height } = kinds[kind];
    const at = this.pointOf(mark);
    const label = el('span', { class: `label ${kind}`, dir: 'auto' }, mark.name);
    L.marker(at, inert(symbol(), [width, height], 'marks')).addTo(this.layers[kind]);
    L.marker(at, inert(label, [0, 0], 'labels')).addTo(this.layers[kind]);
    return { kind, at, label };
  }

  settle() {
    const shown = this.items.filter((item) => this.map.hasLayer(this.layers[item.kind]));
    const marks = shown.map((item) => {
      const { x, y } = this.map.latLngToLayerPoint(item.at);
      const { radius } = kinds[item.kind];
      return { x, y, radius, width: item.label.offsetWidth, height: item.label.offsetHeight };
    });
    const upperLeft = this.map.latLngToLayerPoint(this.bounds.getNorthWest());
    const lowerRight = this.map.latLngToLayerPoint(this.bounds.getSouthEast());
    const frame = { left: upperLeft.x, top: upperLeft.y, right: lowerRight.x, bottom: lowerRight.y };
    placeLabels(marks, frame).forEach((corner, i) => {
      const { label } = shown[i];
      label.classList.toggle('hidden', corner === null);
      if (corner !== null) {
        label.style.left = `${Math.round(corner.x - marks[i].x)}px`;
        label.style.top = `${Math.round(corner.y - marks[i].y)}px`;
      }
    });
  }
}
