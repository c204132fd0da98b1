// What happens on the page: files are sent, what is changed is judged again, rows lead to their places. Without it, forms and links do.
'use strict';

const byId = id => document.getElementById(id);
let hush = 0;
// say tells what happened; what nobody has to wait for goes away again.
function say(text, lasting) {
  byId('status').textContent = text;
  clearTimeout(hush);
  if (!lasting) hush = setTimeout(() => { byId('status').textContent = ''; }, 8000);
}
const pause = seconds => new Promise(done => setTimeout(done, 1000 * seconds));
const lost = 'peelcheck serve does not answer. See whether it still runs, then send the file again.';
let viewer = null;

// --- sending files

// refusal says why a file is not sent at all, '' for one that is.
async function refusal(file) {
  const { most, mostWords } = document.body.dataset;
  const unread = 'It is empty or cannot be read: perhaps it was moved, changed or deleted meanwhile. Choose it again.';
  if (file.size === 0) return unread; // as a file has that is gone
  if (file.size <= +most) return file.slice(0, 1).arrayBuffer().then(() => '', () => unread);
  return `It is ${(file.size / 1e6).toFixed(0)} MB large, and ${mostWords} is the most taken here. It was not sent. Ask for a smaller one, or start peelcheck serve with a larger --max-upload.`;
}

// send sends one file and returns what became of it; without a href it was not taken.
async function send(file, line) {
  const refused = await refusal(file);
  if (refused) {
    line.textContent = `${file.name}: ${refused}`;
    return {};
  }
  const form = new FormData();
  form.append('artwork', file);
  line.textContent = `${file.name}: judging`;
  const answer = await fetch('/uploads', { method: 'POST', body: form, headers: { Accept: 'application/json' } });
  if (!(answer.headers.get('Content-Type') || '').startsWith('application/json')) throw new Error(await words(answer));
  let [taken] = await answer.json();
  for (let wait = Number(answer.headers.get('Retry-After')) || 5; taken.busy;) {
    line.textContent = `${file.name}: ${taken.words}`;
    await pause(wait);
    const again = await fetch(taken.href); // it is kept, and judged when it is looked at
    taken = { ...taken, busy: again.status === 503, words: 'judged' };
  }
  line.textContent = `${file.name}: ${taken.words}`;
  return taken;
}

// words are what a page of trouble says.
async function words(answer) {
  const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  return page.querySelector('.trouble')?.textContent.trim() || `the answer was ${answer.status}`;
}

// What is dropped while other files are being sent joins them; the page is left when all are done.
const batch = { left: [], done: [], refused: 0, sent: 0, atWork: 0 };

// sendAll sends files; again says that they were refused before, so that those refused with them stay listed.
async function sendAll(files, again) {
  const list = byId('sending');
  if (!batch.atWork) {
    if (!again) list.replaceChildren(document.createElement('li'));
    Object.assign(batch, { left: [], done: [], refused: list.querySelectorAll('button').length, sent: 0 });
  }
  list.hidden = false;
  batch.left.push(...files);
  batch.sent += files.length;
  say(batch.sent === 1 ? `Judging ${files[0].name}` : `Judging ${batch.sent} files`, batch.sent === 1);
  count(list);
  const starting = [];
  while (batch.atWork < 2 && starting.length < files.length) starting.push(sendNext(list));
  await Promise.all(starting);
  if (batch.atWork || !starting.length) return;
  count(list);
  if (batch.refused) {
    say(`${batch.refused === 1 ? 'One file was' : `${batch.refused} files were`} not taken; the list says why.`, true);
    if (batch.done.length) list.appendChild(document.createElement('li')).innerHTML = '<a href="/">See the others</a>';
    return;
  }
  location.assign(batch.done.length === 1 ? batch.done[0].href : '/');
}

// sendNext sends one file after the other until none is left.
async function sendNext(list) {
  batch.atWork++;
  for (let file; (file = batch.left.shift());) {
    count(list);
    const line = list.appendChild(document.createElement('li'));
    try {
      const taken = await send(file, line);
      if (taken.href) {
        batch.done.push(taken);
        line.remove();
        renew();
      } else batch.refused++;
    } catch (e) {
      batch.refused++;
      line.textContent = `${file.name}: ${e instanceof TypeError ? lost : e.message} `;
      const again = line.appendChild(document.createElement('button'));
      again.type = 'button';
      again.textContent = 'Send again';
      again.addEventListener('click', () => { line.remove(); sendAll([file], true); });
    }
  }
  batch.atWork--;
}

// count tells how far a batch is, in the first line of the list of what is being sent.
function count(list) {
  const far = `${batch.done.length} of ${batch.sent} done`, refused = batch.refused ? `, ${batch.refused} not taken` : '';
  const going = batch.done.length + batch.refused < batch.sent;
  list.firstElementChild.textContent = batch.sent === 1 ? '' : `${far}${refused}.${going ? ' Leave this page open until all are.' : ''}`;
}

addEventListener('beforeunload', e => { if (batch.atWork) e.preventDefault(); }); // or what was not sent yet would be lost

function takeFiles() {
  for (const input of document.querySelectorAll('input[type=file]')) {
    input.addEventListener('change', () => { if (input.files.length) sendAll(input.files); });
  }
  let depth = 0;
  const has = e => [...(e.dataTransfer?.types || [])].includes('Files');
  const cover = on => { byId('dropping').hidden = !on; };
  document.addEventListener('dragenter', e => { if (has(e)) { depth++; cover(true); } });
  document.addEventListener('dragleave', e => { if (has(e) && --depth <= 0) { depth = 0; cover(false); } });
  document.addEventListener('dragover', e => { if (has(e)) e.preventDefault(); });
  document.addEventListener('drop', e => {
    if (!has(e)) return;
    e.preventDefault();
    depth = 0;
    cover(false);
    const folders = new Set([...e.dataTransfer.items].map(i => i.webkitGetAsEntry?.()).filter(i => i?.isDirectory).map(i => i.name));
    const files = [...e.dataTransfer.files].filter(f => !folders.has(f.name));
    if (files.length) sendAll(files);
    else say('This is a folder: open it, and drop the files in it.', true);
  });
}

// --- judging again

let underWay = null;

// busy tells that something is being made, at the button that asked for it too.
function busy(what) {
  byId('work')?.setAttribute('aria-busy', 'true');
  byId('status').classList.add('busy');
  say(`${what} …`, true);
  const make = byId('make');
  if (make && what === making) {
    make.setAttribute('aria-disabled', 'true');
    make.classList.add('busy');
    make.textContent = `${what} …`;
  }
}

function idle() {
  byId('work')?.removeAttribute('aria-busy');
  byId('status').classList.remove('busy');
  const make = byId('make');
  if (!make) return;
  make.removeAttribute('aria-disabled');
  make.classList.remove('busy');
  make.textContent = make.dataset.idle;
}

const making = 'Making the print file; this may take some seconds';
const away = 'This artwork is not here any more: it was removed, kept long enough, or peelcheck serve was started anew. Drop the file again.';

// reach fetches, and goes on trying where the server does not answer or has too much to do. what says what is not done meanwhile.
async function reach(url, options, what) {
  for (let wait = 2; ; wait = Math.min(2 * wait, 15)) {
    try {
      const answer = await fetch(url, options);
      byId('gone').hidden = true;
      if (answer.status !== 503) return answer;
      say(await words(answer), true);
      await pause(Number(answer.headers.get('Retry-After')) || 5);
      if (options.signal?.aborted) throw new DOMException('', 'AbortError');
    } catch (e) {
      if (!(e instanceof TypeError)) throw e;
      say('', true);
      if (byId('gone').hidden || options.signal) { // what somebody asked for is told before what goes on by itself
        byId('gone-what').textContent = what;
        byId('gone-undo').hidden = !options.signal;
        byId('gone-undo').textContent = options.undo || 'Leave it';
      }
      byId('gone').hidden = false;
      await countdown(wait, options.signal);
    }
  }
}

// countdown waits some seconds, or until somebody wants to try at once.
async function countdown(seconds, signal) {
  const now = byId('gone-now');
  let asked = false;
  const ask = () => { asked = true; };
  now.addEventListener('click', ask, { once: true });
  for (let left = seconds; left > 0 && !asked; left -= 0.25) {
    if (signal?.aborted) throw new DOMException('', 'AbortError');
    if (Number.isInteger(left)) byId('gone-when').textContent = `Trying again by itself in ${left} s.`;
    await pause(0.25);
  }
  now.removeEventListener('click', ask);
  byId('gone-when').textContent = 'Trying now.';
}

// go loads the page of an artwork judged otherwise, or another view of it, and puts it in place of this one. push keeps this one to go
// back to.
async function go(url, push) {
  underWay?.abort();
  const mine = underWay = new AbortController();
  busy(new URL(url, location).searchParams.get('view') === 'sheet' ? making : 'Judging');
  try {
    const answer = await reach(url, { signal: mine.signal, undo: 'Put the fields back' }, 'What you changed is not judged yet: picture and verdict are those of before.');
    const next = new DOMParser().parseFromString(await answer.text(), 'text/html');
    const work = next.getElementById('work');
    idle();
    if (!work) {
      say(next.querySelector('.trouble')?.textContent.trim() || 'This cannot be judged so.', true);
      return;
    }
    if (answer.status === 422 && viewer && next.getElementById('wrong')) {
      refuse(next.getElementById('wrong'));
      return;
    }
    if (push && answer.ok) keepPlace();
    const focused = document.activeElement?.id, open = [...document.querySelectorAll('#work details')].map(d => d.open);
    const layer = viewer?.layerName;
    byId('work').replaceWith(document.adoptNode(work));
    if (push && answer.ok) history.pushState(null, '', url);
    else if (answer.ok || !viewer) history.replaceState(null, '', url);
    begin(layer);
    if (open.length === document.querySelectorAll('#work details').length) document.querySelectorAll('#work details').forEach((d, i) => { d.open = open[i]; });
    if (focused) byId(focused)?.focus({ preventScroll: true });
    if (byId('no-sheet')) {
      byId('no-sheet').focus();
      byId('no-sheet').scrollIntoView({ block: 'center' });
      say('');
      return true;
    }
    const word = byId('verdict')?.querySelector('strong').textContent || '', tally = byId('verdict')?.querySelector('.tally')?.textContent || '';
    say(document.querySelector('.verdict-none') ? byId('verdict').textContent.trim() : `Judged${byId('sheet-lines') ? ', the print file' : ''}: ${word} ${tally}`.trim());
    return true;
  } catch (e) {
    if (e.name === 'AbortError') return;
    idle();
    throw e;
  }
}

// refuse tells what is wrong with a field beside it. What could be judged last stays in sight.
function refuse(wrong) {
  const field = byId(wrong.dataset.field), form = byId('job');
  accept();
  wrong.append(' Picture and verdict are still those of before.');
  document.adoptNode(wrong);
  if (field) {
    (field.closest('.swatched') || field).after(wrong);
    field.setAttribute('aria-invalid', 'true');
    field.dataset.described = field.getAttribute('aria-describedby') || '';
    field.setAttribute('aria-describedby', `wrong ${field.dataset.described}`.trim());
  } else form.prepend(wrong);
  say('');
}

// accept takes back what was said of a field.
function accept() {
  byId('wrong')?.remove();
  const field = document.querySelector('#job [aria-invalid]');
  if (!field) return;
  field.removeAttribute('aria-invalid');
  if (field.dataset.described) field.setAttribute('aria-describedby', field.dataset.described);
  else field.removeAttribute('aria-describedby');
}

const addressOf = form => {
  const asked = new URLSearchParams();
  for (const [key, value] of new FormData(form)) if (value !== '') asked.append(key, value);
  return `${form.getAttribute('action')}?${asked}`;
};

// --- the place: what was in sight, kept for this tab, so that going back finds it again

const placeKey = () => `place ${location.pathname}${location.search}`;

function keepPlace() {
  if (!viewer) return;
  const at = viewer.map.getCenter();
  sessionStorage.setItem(placeKey(), JSON.stringify({
    at: [at.lat, at.lng], zoom: viewer.map.getZoom(), layer: viewer.layerName, scroll: scrollY,
    row: document.querySelector('.row[aria-current]')?.dataset.id,
  }));
}

function findPlace() {
  const kept = JSON.parse(sessionStorage.getItem(placeKey()));
  if (!kept || !viewer) return;
  if (kept.row) document.querySelector(`.row[data-id="${kept.row}"]`)?.click();
  const radio = document.querySelector(`[name=layer][value="${kept.layer}"]`);
  if (radio && !radio.checked) radio.click();
  viewer.map.setView(kept.at, kept.zoom, { animate: false });
  scrollTo({ top: kept.scroll, behavior: 'instant' });
}

// update replaces a part of the page by what the server has now.
async function update(id, from) {
  const was = byId(id);
  if (!was) return;
  const answer = await reach(from, {}, 'What is listed here may be out of date.');
  const next = answer.ok && new DOMParser().parseFromString(await answer.text(), 'text/html').getElementById(id);
  if (!next || byId(id) !== was) return;
  const focused = was.contains(document.activeElement) ? document.activeElement.id : '';
  was.replaceWith(document.adoptNode(next));
  if (focused) byId(focused)?.focus({ preventScroll: true });
}

addEventListener('pagehide', keepPlace);
addEventListener('popstate', async () => {
  if (byId('work') && await go(location.pathname + location.search)) findPlace();
});

// --- pages and lists that are still being judged

const refreshing = new Set();

// refresh brings a part of the page up to date until it is finished.
async function refresh(id, bring) {
  if (refreshing.has(id)) return;
  refreshing.add(id);
  while (byId(id) && 'unfinished' in byId(id).dataset) {
    await pause(1);
    if (byId(id)) await bring();
  }
  refreshing.delete(id);
}

// renew brings the list up to date, and keeps it so while some of it is still being judged. One answer is awaited at a time, or an older
// one could come last.
const renewing = { at: false, again: false };
async function renew() {
  renewing.again = true;
  if (renewing.at) return;
  renewing.at = true;
  try {
    while (renewing.again) {
      renewing.again = false;
      await update('list', location.href);
    }
  } finally {
    renewing.at = false;
  }
  refresh('list', renew);
}

// --- one artwork

function begin(layer) {
  viewer?.end();
  viewer = null;
  const box = byId('viewer');
  if (!box) return;
  const rows = [...document.querySelectorAll('.row')];
  viewer = new Viewer(box, rows);
  const choose = row => {
    for (const other of rows) other.removeAttribute('aria-current');
    row.setAttribute('aria-current', 'true');
    viewer.fly(row.dataset.id);
  };
  for (const row of rows) {
    row.addEventListener('click', () => {
      choose(row);
      if (matchMedia('(max-width: 62rem)').matches) box.scrollIntoView({ block: 'start', behavior: still ? 'auto' : 'smooth' });
      say(`Number ${row.dataset.id} is in the middle of the picture.`);
    });
  }
  viewer.onTag = row => {
    const hidden = row.closest('details');
    if (hidden) hidden.open = true;
    choose(row);
    row.scrollIntoView({ block: 'nearest' });
    row.focus({ preventScroll: true });
  };
  for (const radio of document.querySelectorAll('[name=layer]')) {
    radio.addEventListener('change', () => viewer.show(radio.value));
    if (radio.value === layer) { radio.checked = true; viewer.show(layer); }
  }
  for (const mark of document.querySelectorAll('[name=mark]')) mark.addEventListener('change', () => viewer.level(mark.value, mark.checked));
  byId('copy')?.addEventListener('click', copyReply);
  viewer.onLack = mend;
  refresh('pages', () => update('pages', byId('pages').dataset.from));
}

async function copyReply() {
  const reply = byId('reply');
  try {
    await navigator.clipboard.writeText(reply.value);
    say('The reply is copied.');
  } catch {
    reply.select(); // where the page may not write the clipboard, as over plain HTTP from another machine
    say('The reply is selected: copy it with Ctrl and C.');
  }
}

// follow asks for what a link leads to before the browser follows it, so that there is a sign of it and a word if it fails.
async function follow(link) {
  const href = link.getAttribute('href'), name = link.textContent, saves = link.hasAttribute('download');
  underWay?.abort();
  const mine = underWay = new AbortController();
  busy(link.dataset.slow || `Fetching: ${name}`);
  try {
    const answer = await reach(href, { method: 'HEAD', signal: mine.signal }, saves ? `${name} is not saved.` : `${name} cannot be shown.`);
    idle();
    if (answer.status === 404) say(away, true);
    else if (!answer.ok && 'refused' in link.dataset) go(href.replace(link.dataset.refused, '?')); // which says why
    else if (!answer.ok || !saves) location.assign(href);
    else {
      say(`${name} is being saved.`);
      const save = document.body.appendChild(document.createElement('a'));
      save.href = href;
      save.download = '';
      save.click();
      save.remove();
    }
  } catch (e) {
    if (e.name !== 'AbortError') throw e;
  }
}

// removeUpload takes a file off the list.
async function removeUpload(form) {
  const name = form.closest('li').querySelector('a').textContent;
  await reach(form.action, { method: 'POST', body: new URLSearchParams(new FormData(form)) }, `${name} is not removed.`);
  say(`${name} is removed.`);
  await renew();
}

// mend draws the picture again where parts of it did not come.
let mending = 0;
async function mend() {
  if (mending > 5) return;
  const lacking = viewer;
  mending++;
  const answer = await reach(location.href, { method: 'HEAD' }, 'Parts of the picture are missing.');
  if (answer.status === 404) {
    say(away, true);
    return;
  }
  await pause(1);
  mending = 0;
  if (viewer === lacking) viewer?.show(viewer.layerName);
}

document.addEventListener('change', e => {
  const form = e.target.closest('form[data-live]');
  if (form && (form.id !== 'prepare' || 'sheet' in byId('viewer').dataset)) go(addressOf(form), e.target.id === 'page');
});
document.addEventListener('submit', e => {
  if (e.target.matches('#list form')) {
    e.preventDefault();
    removeUpload(e.target);
  }
  if (!e.target.matches('form[data-live]')) return;
  e.preventDefault();
  if (!byId('make')?.hasAttribute('aria-disabled')) go(addressOf(e.target), e.target.id === 'prepare' && !('sheet' in byId('viewer').dataset));
});
document.addEventListener('click', e => {
  const link = e.target.closest('a');
  if (!link || e.ctrlKey || e.metaKey || e.shiftKey || e.button !== 0) return;
  if ('slow' in link.dataset || link.hasAttribute('download') && byId('work')?.contains(link)) {
    e.preventDefault();
    follow(link);
  }
  if (!('live' in link.dataset)) return;
  e.preventDefault();
  if (link.href !== location.href) go(link.getAttribute('href'), true);
});
byId('gone-undo').addEventListener('click', () => {
  const fields = byId('gone-undo').textContent !== 'Leave it';
  underWay?.abort();
  byId('gone').hidden = true;
  idle();
  if (!fields) {
    say('');
    return;
  }
  for (const form of document.querySelectorAll('form[data-live]')) form.reset();
  accept();
  say('The fields are as they were judged.');
});
byId('print')?.addEventListener('click', () => print());

document.body.classList.add('scripting');
takeFiles();
begin();
if (viewer) {
  history.scrollRestoration = 'manual';
  const came = performance.getEntriesByType('navigation')[0]?.type;
  if (came === 'back_forward' || came === 'reload') findPlace();
}
refresh('list', renew);
const again = byId('again');
if (again) {
  say(`This page tries again by itself in ${again.dataset.after} seconds.`, true);
  pause(+again.dataset.after).then(() => location.reload());
}
