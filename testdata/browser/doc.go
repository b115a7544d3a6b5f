// Package browser judges calsplice's pages in a real browser: Chromium, headless,
// and the axe-core audit. It is a module of its own, so that neither enters the
// program's dependencies; .ci/run installs both and runs it.
package browser
