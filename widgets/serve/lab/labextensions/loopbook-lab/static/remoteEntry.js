// Opens a Loopbook lesson ready to read. Written by hand, with no build step: JupyterLab loads this file,
// asks it for './extension', and activates the one plugin below. Any notebook that does not carry
// 'loopbook' in its metadata is left as it is.
(() => {
  const css = `
    .loopbook-lesson .jp-InputPlaceholder, .loopbook-lesson .jp-OutputPlaceholder,
    .loopbook-lesson .jp-Notebook-footer { display: none; }
    .loopbook-lesson .jp-CodeCell:has(.jp-InputPlaceholder) .jp-Cell-inputWrapper { display: none; }
    .loopbook-lesson .jp-CodeCell:has(.jp-InputPlaceholder) .jp-OutputPrompt { display: none; }
    .loopbook-lesson .jp-CodeCell.jp-mod-noOutputs:has(.jp-InputPlaceholder),
    .loopbook-lesson .jp-Cell.loopbook-aside { display: none; }
    .loopbook-lesson .jp-InputPrompt, .loopbook-lesson .jp-OutputPrompt, .loopbook-lesson .jp-Collapser,
    .loopbook-lesson .jp-OutputArea-promptOverlay, .loopbook-lesson .jp-cell-toolbar { display: none; }
    .loopbook-lesson .jp-WindowedPanel-viewport { padding: 16px 0 48px; }
    .loopbook-lesson .jp-Cell { max-width: 1640px; margin: 0 auto; padding: 4px 20px; }
    .loopbook-lesson .jp-RenderedMarkdown { font-size: 16px; line-height: 1.55; max-width: 46em; padding-left: 4px; }
    .loopbook-lesson .jp-RenderedMarkdown :is(h1, h2, h3) { line-height: 1.25; }
    .loopbook-lesson .jp-RenderedMarkdown table { font-size: 15px; }
    @media (min-width: 1700px) {
      .loopbook-lesson .jp-RenderedMarkdown { font-size: 21px; }
      .loopbook-lesson .jp-RenderedMarkdown table { font-size: 19px; }
    }
    .loopbook-lesson .jp-Notebook .jp-Cell.jp-mod-active.jp-MarkdownCell { background: transparent; }
    .loopbook-lesson .jp-Notebook .jp-MarkdownCell.jp-mod-active .jp-MarkdownOutput { border-color: transparent; }
    @media (max-width: 640px) { .loopbook-lesson .jp-Cell { padding: 4px 6px; } }
  `;

  const isLesson = panel => {
    const model = panel && panel.content && panel.content.model;
    return Boolean(model && model.getMetadata && model.getMetadata('loopbook'));
  };

  const plugin = {
    id: 'loopbook-lab:open',
    autoStart: true,
    activate: app => {
      const style = document.createElement('style');
      style.textContent = css;
      document.head.appendChild(style);

      const opened = new WeakSet();
      const open = async () => {
        const panel = app.shell.currentWidget;
        if (!panel || !panel.context || !panel.sessionContext || opened.has(panel)) return;
        opened.add(panel);
        await panel.context.ready;
        if (!isLesson(panel)) return;
        panel.addClass('loopbook-lesson');
        // Cells that prove the lesson to whoever maintains it, and the word on what to press where nobody runs
        // the lesson by itself, are nothing to a learner here.
        const tagged = tag => cell => (cell.model.getMetadata('tags') || []).includes(tag);
        const cells = panel.content.widgets;
        cells.filter(tagged('nbval-check-output')).forEach(cell => cell.addClass('loopbook-aside'));
        cells.filter(tagged('loopbook-aside')).forEach(cell => cell.addClass('loopbook-aside'));
        await panel.sessionContext.ready;
        // 'ready' comes without a kernel where the learner is still asked which one to take.
        if (!panel.sessionContext.session || !panel.sessionContext.session.kernel) {
          await new Promise(done => panel.sessionContext.kernelChanged.connect(done));
        }
        const proof = cells.findIndex(tagged('nbval-check-output'));
        if (proof > 0) {
          panel.content.activeCellIndex = proof;
          await app.commands.execute('notebook:run-all-above');
        } else {
          await app.commands.execute('notebook:run-all-cells');
        }
        const top = Math.max(0, cells.findIndex(cell => !cell.hasClass('loopbook-aside')));
        panel.content.activeCellIndex = top;
        if (panel.content.scrollToItem) panel.content.scrollToItem(top);
      };

      app.restored.then(() => {
        if (app.shell.collapseLeft) app.shell.collapseLeft();
        if (app.shell.collapseRight) app.shell.collapseRight();
        open();
        if (app.shell.currentChanged) app.shell.currentChanged.connect(open);
      });
    }
  };

  window._JUPYTERLAB = window._JUPYTERLAB || {};
  window._JUPYTERLAB['loopbook-lab'] = {
    init: () => undefined,
    get: () => Promise.resolve(() => ({ __esModule: true, default: [plugin] }))
  };
})();
