// Opens a recipe in yaml-language-server (npm) over stdio, as an editor does, and prints what it offers as JSON.
// Arguments: the server's script, the recipe's file, and LINE:COLUMN (from 0) for completion, then for hover.
'use strict';
const { spawn } = require('child_process');
const { readFileSync } = require('fs');
const { pathToFileURL } = require('url');

const [script, file, completionAt, hoverAt] = process.argv.slice(2);
const uri = pathToFileURL(file).href;
const server = spawn(process.execPath, [script, '--stdio'], { stdio: ['pipe', 'pipe', 'inherit'] });
const waiting = new Map();
let last = 0;
let diagnosed;
const diagnostics = new Promise((resolve) => { diagnosed = resolve; });
const position = (text) => {
  const [line, character] = text.split(':').map(Number);
  return { line, character };
};

function send(message) {
  const body = Buffer.from(JSON.stringify({ jsonrpc: '2.0', ...message }));
  server.stdin.write(`Content-Length: ${body.length}\r\n\r\n`);
  server.stdin.write(body);
}

function ask(method, params) {
  last += 1;
  const id = last;
  send({ id, method, params });
  return new Promise((resolve) => waiting.set(id, resolve));
}

function take(message) {
  if (message.method === 'textDocument/publishDiagnostics' && message.params.uri === uri) {
    diagnosed(message.params.diagnostics.map((d) => d.message));
  } else if (message.method === 'workspace/configuration') {
    const yaml = { schemaStore: { enable: false }, hover: true, completion: true, validate: true };
    send({ id: message.id, result: message.params.items.map((i) => (i.section === 'yaml' ? yaml : {})) });
  } else if (message.method && message.id !== undefined) {
    send({ id: message.id, result: null });
  } else if (waiting.has(message.id)) {
    waiting.get(message.id)(message.result);
  }
}

let kept = Buffer.alloc(0);
server.stdout.on('data', (data) => {
  kept = Buffer.concat([kept, data]);
  for (;;) {
    const head = kept.indexOf('\r\n\r\n');
    if (head < 0) return;
    const length = Number(/Content-Length: (\d+)/.exec(kept.toString('latin1', 0, head))[1]);
    if (kept.length < head + 4 + length) return;
    const body = kept.toString('utf8', head + 4, head + 4 + length);
    kept = kept.subarray(head + 4 + length);
    take(JSON.parse(body));
  }
});

async function main() {
  await ask('initialize', {
    processId: process.pid,
    rootUri: null,
    capabilities: { workspace: { configuration: true }, textDocument: { completion: {}, hover: {} } },
  });
  send({ method: 'initialized', params: {} });
  const text = readFileSync(file, 'utf8');
  send({ method: 'textDocument/didOpen', params: { textDocument: { uri, languageId: 'yaml', version: 1, text } } });
  const textDocument = { uri };
  const told = await diagnostics;
  const offered = await ask('textDocument/completion', { textDocument, position: position(completionAt) });
  const hover = await ask('textDocument/hover', { textDocument, position: position(hoverAt) });
  const items = Array.isArray(offered) ? offered : offered.items;
  console.log(JSON.stringify({
    labels: items.map((i) => i.label),
    hover: hover && (hover.contents.value || JSON.stringify(hover.contents)),
    diagnostics: told,
  }));
  server.kill();
}

setTimeout(() => { console.error('the language server does not answer'); process.exit(1); }, 60000).unref();
main();
