package tables

import "fmt"

// MaxExtraDepth bounds how deep the values of kept "x-…" keys nest.
const MaxExtraDepth = 32

// Bounds on what a reader takes in, so that a hostile or broken file costs
// bounded time and memory. They are far above any real calibration.
const (
	DefaultMaxBytes = 256 << 20 // of one input
	DefaultMaxCells = 20e6      // of one document's tables together
)

var (
	maxBytes int64 = DefaultMaxBytes
	maxCells       = int(DefaultMaxCells)
)

// SetMax sets the bounds for the whole process; what is not above 0 stays. The
// command sets them from the environment (CALSPLICE_MAX_MIB,
// CALSPLICE_MAX_CELLS) before it reads anything.
func SetMax(bytes int64, cells int) {
	if bytes > 0 {
		maxBytes = bytes
	}
	if cells > 0 {
		maxCells = cells
	}
}

// MaxBytes is the largest input that a reader takes.
func MaxBytes() int64 { return maxBytes }

// MaxCells is the largest number of cells that a document may have.
func MaxCells() int { return maxCells }

// TooManyBytes is what a reader says of an input beyond [MaxBytes].
func TooManyBytes() string {
	return fmt.Sprintf("the input is larger than %d MiB (the environment variable CALSPLICE_MAX_MIB sets the bound)", maxBytes>>20)
}

// TooManyCells is what a reader says of a document beyond [MaxCells].
func TooManyCells() string {
	return fmt.Sprintf("the document has more than %d cells (the environment variable CALSPLICE_MAX_CELLS sets the bound)", maxCells)
}

// MaxText bounds a text of a document, and the value of a kept key, in bytes: far
// above any note, and far below what a broken or hostile file may hold between
// two quotes.
const MaxText = 16 << 20

// TooLongText is what a reader says of a text beyond [MaxText].
func TooLongText() string { return "text is longer than 16 MiB" }
