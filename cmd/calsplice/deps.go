//go:build deps

package main

// Holds the modules that the plan needs until each has its first user.
import (
	_ "github.com/evanphx/json-patch/v5"
	_ "github.com/expr-lang/expr"
	_ "github.com/google/go-cmp/cmp"
	_ "github.com/klauspost/compress/zstd"
	_ "github.com/natefinch/atomic"
	_ "github.com/santhosh-tekuri/jsonschema/v6"
	_ "github.com/schollz/progressbar/v3"
	_ "github.com/sergi/go-diff/diffmatchpatch"
	_ "github.com/xuri/excelize/v2"
	_ "golang.org/x/sys/cpu"
	_ "golang.org/x/term"
	_ "golang.org/x/text/encoding"
	_ "gonum.org/v1/gonum/mat"
	_ "gonum.org/v1/plot"
	_ "pgregory.net/rapid"
)
