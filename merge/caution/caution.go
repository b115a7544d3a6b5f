// Package caution holds what the program says whenever it offers new numbers
// for an engine. It stands here once; proposals, transfers and reports show it
// once each.
package caution

import "strings"

// Standing is the caution of every proposal, transfer and report, sentence by
// sentence.
var Standing = []string{
	"Calibration changes can damage an engine, void approval for road use and break emission law.",
	"Change one thing at a time.",
	"Check fuel pressure, fuel quality, leaks and sensors before changing tables.",
	"Verify under load with a wideband sensor and knock detection, on a dynamometer or closed course, never on a public road.",
	"Follow local law and licensed practice.",
}

// Text is [Standing] as one paragraph.
func Text() string { return strings.Join(Standing, " ") }
