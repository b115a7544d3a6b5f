// Package licences holds the notices of everything that the program is linked
// from: Go, every module, the font of its pictures and its colour scales. A test
// keeps them complete and writes them anew.
package licences

import _ "embed"

// Notices is the licence of each, under its name and version.
//
//go:embed notices.txt
var Notices string
