// Saves the ticks of this guide in the browser if it allows that; otherwise the boxes still work.
const boxes = [...document.querySelectorAll('input[type=checkbox]')];
const store = 'shellgen guide ' + document.body.dataset.guide;
let kept = new Set();
try { kept = new Set(JSON.parse(localStorage.getItem(store) || '[]')); } catch { document.getElementById('kept').hidden = true; }
const keep = () => { try { localStorage.setItem(store, JSON.stringify([...kept])); } catch { /* a private window */ } };
for (const box of boxes) {
  box.checked = kept.has(box.id);
  box.addEventListener('change', () => { box.checked ? kept.add(box.id) : kept.delete(box.id); keep(); });
}
document.getElementById('clear').addEventListener('click', () => {
  kept.clear(); keep();
  for (const box of boxes) box.checked = false;
});
