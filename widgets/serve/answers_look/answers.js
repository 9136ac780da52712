(function () {
  'use strict';
  var body = document.body, at = body.getAttribute('data-step'), wait = 0;
  if (!at) return;
  var show = body.className === 'show';
  function lost(words) {
    var all = document.querySelectorAll('.lost');
    for (var i = 0; i < all.length; i++) if (all[i].textContent !== words) all[i].textContent = words;
  }
  function text(id, words) {
    var one = document.getElementById(id);
    if (one && one.textContent !== String(words)) one.textContent = words;
  }
  function fill(told) {
    text('joined', told.joined); text('held', told.held_off); text('total', told.total);
    var bars = document.querySelectorAll('progress'), counts = document.querySelectorAll('.count');
    for (var i = 0; i < bars.length && i < told.counts.length; i++) {
      bars[i].max = Math.max(told.total, 1); bars[i].value = told.counts[i];
      counts[i].textContent = told.total ? told.counts[i] + ' · ' + Math.round(100 * told.counts[i] / told.total) + ' %' : '0';
    }
  }
  function again() { setTimeout(look, wait + (show ? 1000 : 2000 + Math.random() * 1000)); }
  function look() {
    var ask = new XMLHttpRequest();
    ask.open('GET', '/live'); ask.timeout = 8000;
    ask.onload = function () {
      if (ask.status !== 200) { wait = Math.min(wait * 2 + 2000, 20000); again(); return; }
      var told = JSON.parse(ask.responseText);
      wait = 0; lost('');
      if (told.step !== at) { location.replace(show ? '/show' : '/'); return; }
      if (show && told.counts) fill(told);
      again();
    };
    ask.onerror = ask.ontimeout = function () {
      wait = Math.min(wait * 2 + 2000, 20000); lost('The connection is lost; trying again.'); again();
    };
    ask.send();
  }
  again();
})();
