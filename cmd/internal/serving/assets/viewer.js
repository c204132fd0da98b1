// The picture: it zooms to single pixels, moves, shows one layer, and marks what was found.
'use strict';

const still = matchMedia('(prefers-reduced-motion: reduce)').matches;
const deepest = 6; // 64 screen pixels for one of the artwork
const seen = 4, clear = 6; // screen points: how wide a mark must be to be seen, and how wide it is where only a part of it is shown
const dashes = { error: null, warning: '6 4', note: '2 4' }; // as on the proof: solid, dashed, dotted

class Viewer {
  // box is the page's element #viewer; rows are the buttons of the findings, worst first.
  constructor(box, rows) {
    this.box = box;
    this.w = +box.dataset.w;
    this.h = +box.dataset.h;
    this.dense = window.devicePixelRatio > 1 ? 1 : 0; // then a tile's pixels are halves of the page's
    this.bounds = L.latLngBounds([[-this.h, 0], [0, this.w]]);
    this.map = L.map(box.querySelector('.canvas'), {
      crs: L.CRS.Simple, zoomControl: false, attributionControl: false, zoomSnap: 0, maxZoom: deepest, minZoom: -16,
      keyboardPanDelta: 120, zoomAnimation: !still, fadeAnimation: !still, markerZoomAnimation: !still, inertia: !still,
      maxBounds: this.bounds.pad(1.5),
    });
    this.map.on('zoom', () => this.scale());
    this.map.on('zoomend', () => this.declutter());
    this.whole();
    this.map.setMinZoom(this.map.getZoom() - 1);
    this.show('look');
    this.mark(rows);
    box.querySelectorAll('[data-zoom]').forEach(b => b.addEventListener('click', () => this.zoom(b.dataset.zoom)));
    this.resized = new ResizeObserver(() => this.resize());
    this.resized.observe(this.map.getContainer());
  }

  end() {
    this.resized.disconnect();
    this.map.remove();
  }

  whole() {
    this.map.fitBounds(this.bounds, { paddingTopLeft: [12, 36], paddingBottomRight: [64, 12], animate: false });
    this.fitted = [this.map.getCenter(), this.map.getZoom()];
  }

  // resize keeps the picture whole where it was.
  resize() {
    const [at, zoom] = this.fitted, whole = this.map.getZoom() === zoom && this.map.getCenter().equals(at, 1e-6);
    this.map.invalidateSize({ pan: false });
    if (whole) this.whole();
  }

  zoom(how) {
    if (how === 'in') this.map.zoomIn(1, { animate: !still });
    else if (how === 'out') this.map.zoomOut(1, { animate: !still });
    else if (how === 'whole') this.whole();
    else this.pixels();
  }

  // pixels shows single pixels of what was chosen in the list, as long as the picture was not moved since; else of its middle.
  pixels() {
    const zoom = this.map.getZoom() < 4 ? 4 : deepest;
    const chosen = this.shown && this.flown && this.map.latLngToContainerPoint(this.flown).distanceTo(this.map.getSize().divideBy(2)) < 2;
    const at = chosen ? this.shown.point || this.shown.at.getCenter() : this.map.getCenter();
    this.map.setView(at, zoom, { animate: !still });
    if (chosen) this.flown = at;
  }

  // scale tells how large the picture is shown, and keeps pixels square where they are larger than the screen's.
  scale() {
    const times = 2 ** this.map.getZoom(), perMM = times * this.box.dataset.perMm;
    this.box.classList.toggle('pixels', times * window.devicePixelRatio > 1.01);
    const mm = [100, 50, 20, 10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05].find(mm => mm * perMM <= 120) || 0.02;
    document.getElementById('ruler').style.width = `${mm * perMM}px`;
    document.getElementById('scale').textContent = `The bar is ${mm} mm. ${this.sized(perMM)}`;
  }

  // sized compares the size on the screen with the true one. A screen's millimetre is that of CSS: 96 points to the inch, on most screens
  // nearly true at arm's length.
  sized(perMM) {
    const times = perMM * 25.4 / 96;
    const mm = n => n < 10 ? n.toPrecision(2) : n.toFixed(0);
    if (times > 0.95 && times < 1.05) return 'Shown at about its true size.';
    if (times >= 1.05) return `Enlarged: 1 mm looks like about ${mm(times)} mm.`;
    const wide = this.w / this.box.dataset.perMm;
    return `Reduced: ${mm(wide)} mm of width look like about ${mm(wide * times)} mm.`;
  }

  // show replaces the layer that is looked at.
  show(layer) {
    const { tiles, query, levels } = this.box.dataset;
    const next = L.tileLayer('', {
      tileSize: 512 >> this.dense, zoomOffset: this.dense, maxNativeZoom: -this.dense, minNativeZoom: -levels - this.dense,
      minZoom: -20, maxZoom: deepest, bounds: this.bounds, noWrap: true, keepBuffer: 1,
    });
    next.getTileUrl = at => `${tiles}/${layer}/${-(at.z + this.dense)}/${at.x}/${at.y}?${query}`;
    next.on('tileerror', () => this.onLack && this.onLack());
    if (this.layer) this.layer.remove();
    this.layer = next.addTo(this.map);
    this.layerName = layer;
  }

  // mark outlines what the rows stand for.
  mark(rows) {
    this.levels = { error: L.layerGroup(), warning: L.layerGroup(), note: L.layerGroup() };
    this.tags = [];
    for (const row of rows) {
      const [x, y, w, h] = row.dataset.box.split(' ').map(Number);
      const wide = +row.dataset.wide || Math.min(w, h);
      const [px, py] = (row.dataset.point || '').split(' ').map(n => +n + 0.5); // the middle of a ring has nothing
      const level = row.dataset.level, at = L.latLngBounds([[-y - h, x], [-y, x + w]]);
      const outline = L.rectangle(at, { className: `mark mark-${level}`, fill: false, dashArray: dashes[level], interactive: false });
      const within = w > this.w / 2; // then its tag lies within it, else at its corner
      const icon = L.divIcon({ className: 'tag', iconSize: null, iconAnchor: within ? [-8, -8] : [-4, 30], html: row.querySelector('.shape').outerHTML + row.dataset.id });
      const tag = L.marker([-y, within ? x : x + w], { icon, keyboard: false, zIndexOffset: 1000 - Math.min(this.tags.length, 1000) });
      tag.on('click', () => this.onTag && this.onTag(row));
      this.levels[level].addLayer(outline);
      this.tags.push({ id: row.dataset.id, level, tag, home: tag.getLatLng(), at, outline, wide, point: row.dataset.point && L.latLng(-py, px) });
    }
    for (const group of Object.values(this.levels)) group.addTo(this.map);
    this.map.getPane('markerPane').setAttribute('aria-hidden', 'true'); // the list says it in words
    this.declutter();
  }

  level(name, on) {
    if (on) this.levels[name].addTo(this.map);
    else this.levels[name].remove();
    this.declutter();
  }

  // declutter shows as many tags as do not hide one another, the worst first.
  declutter() {
    const taken = [], point = 1 / 2 ** this.map.getZoom();
    for (const t of this.tags || []) {
      // Outlines lie some points off what they mark, and are large enough to be seen.
      const off = side => Math.max(4 * point, (20 * point - side) / 2);
      const x = off(t.at.getEast() - t.at.getWest()), y = off(t.at.getNorth() - t.at.getSouth());
      t.outline.setBounds([[t.at.getSouth() - y, t.at.getWest() - x], [t.at.getNorth() + y, t.at.getEast() + x]]);
      const p = this.map.latLngToLayerPoint(t.tag.getLatLng());
      const shown = this.map.hasLayer(this.levels[t.level]) && (t === this.shown || !taken.some(q => Math.abs(q.x - p.x) < 64 && Math.abs(q.y - p.y) < 32));
      if (shown) { taken.push(p); t.tag.addTo(this.map); } else t.tag.remove();
      const element = t.tag.getElement();
      if (element) element.classList.toggle('tag-shown', t === this.shown);
    }
  }

  // fly leads to a finding.
  fly(id) {
    const t = this.tags.find(t => t.id === id);
    if (!t) return;
    if (this.shown) {
      this.shown.outline.getElement()?.classList.remove('mark-shown');
      this.shown.tag.setLatLng(this.shown.home);
    }
    this.shown = t;
    if (!this.map.hasLayer(this.levels[t.level])) {
      this.level(t.level, true);
      const box = document.querySelector(`[name=mark][value=${t.level}]`);
      if (box) box.checked = true;
    }
    t.outline.getElement()?.classList.add('mark-shown');
    const { at, zoom } = this.placeOf(t);
    if (at === t.point) t.tag.setLatLng(at); // its corner is out of sight
    this.map.once('moveend', () => { this.flown = this.map.getCenter(); });
    if (still) this.map.setView(at, zoom, { animate: false });
    else this.map.flyTo(at, zoom, { duration: 0.6 });
    this.declutter();
  }

  // placeOf is where a finding is best seen: all of it with room round it, or with less room, as long as it is wide enough to be seen; else
  // a place on it, close by.
  placeOf(t) {
    const least = this.map.getMinZoom(), at = t.at.getCenter(), wanted = Math.log2(seen / t.wide);
    const roomy = this.map.getBoundsZoom(t.at.pad(1)), tight = this.map.getBoundsZoom(t.at.pad(0.1));
    if (!t.point || tight >= wanted) return { at, zoom: Math.max(Math.min(Math.max(roomy, Math.min(wanted, tight)), 3), least) };
    return { at: t.point, zoom: Math.max(Math.min(Math.log2(clear / t.wide), 3), least) };
  }
}
