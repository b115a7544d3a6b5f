package cells

import (
	"fmt"
	"math"

	"calsplice/interp/cells/exact"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
)

// folds are the parts of a drive that cross-validation leaves out in turn, and
// the groups of its jackknife: blocks of time, dealt to them one after the
// other, so that neighbouring samples and whole visits mostly share one.
const folds = 10

// foldSeconds is the length of such a block.
const foldSeconds = 32

// A surface is linear in its values at the breakpoints: a sample's own value is the mean
// of the four nodes around it by their bilinear weights. Least squares therefore needs no
// samples, only the sums of products of weights, and of weights with values; those add up
// over logs in any order, since they are exact, and travel in the document's state.

// The sums of a node of a surface: over all samples, the node's weight times
// that of itself and of its neighbours that come after it, and times the value.
const (
	withSelf = iota
	withEast
	withSouthWest // the neighbour one row on and one column back
	withSouth
	withSouthEast
	withValue
	nodeSums
)

// partners are where a node's partners stand from it, in columns and rows.
var partners = [withValue][2]int{{0, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}}

// between is by two of the four nodes around a sample, row after row and the second not
// before the first, the sum of the first node that their product belongs to.
var between = [4][4]int{
	{withSelf, withEast, withSouth, withSouthEast},
	{1: withSelf, withSouthWest, withSouth},
	{2: withSelf, withEast},
	{3: withSelf},
}

// sums are the normal equations of one channel for the values at the breakpoints, by
// fold: those of all logs, exactly, or of one log while it is read, whose samples come
// in one order.
type sums[S any] struct {
	nodes  [folds][]*[nodeSums]S // nil where a node has no samples
	square [folds]S              // Σ value²
}

// newSums has room for so many nodes, and no samples.
func newSums[S any](size int) (n sums[S]) {
	for k := range n.nodes {
		n.nodes[k] = make([]*[nodeSums]S, size)
	}
	return n
}

// at is a node's sums, made where there were none.
func (n *sums[S]) at(fold, node int) *[nodeSums]S {
	p := &n.nodes[fold][node]
	if *p == nil {
		*p = new([nodeSums]S)
	}
	return *p
}

// addTo adds each sum to the same one of another evidence.
func (n *sums[S]) addTo(to *normal, add func(to *exact.Sum, from *S)) {
	for k := range n.nodes {
		add(&to.square[k], &n.square[k])
		for i, own := range n.nodes[k] {
			if own == nil {
				continue
			}
			for j, t := 0, to.at(k, i); j < nodeSums; j++ {
				add(&t[j], &own[j])
			}
		}
	}
}

// normal is the evidence of all logs, which documents carry.
type normal struct{ sums[exact.Sum] }

// normalLog is that of one log.
type normalLog struct{ sums[exact.Double] }

func newNormal(size int) *normal { return &normal{newSums[exact.Sum](size)} }

func newNormalLog(size int) *normalLog { return &normalLog{newSums[exact.Double](size)} }

// add takes a sample at the place between four nodes that corner describes.
func (n *normalLog) add(now float64, c corner, v float64) {
	// Folds are blocks of time and not single samples: neighbouring samples say the same, and
	// a fold that is left out should not be known from the samples beside it.
	fold := int(math.Mod(math.Floor(now/foldSeconds), folds))
	if !(fold >= 0) { // before time 0, or no time
		fold = 0
	}
	n.square[fold].AddProduct(v, v)
	weights := c.weights()
	for a, w := range weights {
		if !(w > 0) {
			continue
		}
		own := n.at(fold, c.node+a%2+a/2*c.columns)
		own[withValue].AddProduct(w, v)
		for b := a; b < len(weights); b++ {
			if p := w * weights[b]; p > 0 {
				own[between[a][b]].Add(p)
			}
		}
	}
}

// corner is a place among four nodes: the first of them and the shares of the
// next column and row.
type corner struct {
	node, columns int
	u, v          float64
}

// weights are the shares of the four nodes, row after row.
func (c corner) weights() [4]float64 {
	return [4]float64{(1 - c.u) * (1 - c.v), c.u * (1 - c.v), (1 - c.u) * c.v, c.u * c.v}
}

// into adds a log's sums, each rounded once.
func (n *normalLog) into(to *normal) {
	n.addTo(to, func(to *exact.Sum, from *exact.Double) { from.Into(to) })
}

// merge adds the evidence of other logs.
func (n *normal) merge(o *normal) {
	o.addTo(n, (*exact.Sum).AddSum)
}

// surfaceMark is what the keys of a surface's state have behind the channel.
const surfaceMark = "~surface"

// state is the surface's part of the document's state: `channel~surface` with
// the squares, and for each node that has evidence `channel~surface[r,c]` with
// fold after fold its sums.
func (n *normal) state(channel string, columns int) []tables.ExtraKey {
	var b []byte
	for k := range n.square {
		b = n.square[k].Append(b)
	}
	keys := []tables.ExtraKey{{Key: channel + surfaceMark, Value: quoted(b)}}
	for i := range n.nodes[0] {
		b = b[:0]
		for k := range n.nodes {
			if sums := n.nodes[k][i]; sums != nil {
				b = append(b, byte(k))
				for j := range sums {
					b = sums[j].Append(b)
				}
			}
		}
		if len(b) > 0 {
			keys = append(keys, tables.ExtraKey{Key: fmt.Sprintf("%s%s[%d,%d]", channel, surfaceMark, i/columns, i%columns), Value: quoted(b)})
		}
	}
	return keys
}

// addEncoded adds what one key of a surface's state holds; node is −1 for the
// squares.
func (n *normal) addEncoded(node, columns int, b []byte) error {
	var err error
	if node < 0 {
		for k := range n.square {
			if b, err = n.square[k].AddEncoded(b); err != nil {
				return tally.ErrState
			}
		}
	}
	for node >= 0 && len(b) > 0 {
		k := int(b[0])
		if k >= folds {
			return tally.ErrState
		}
		b = b[1:]
		sums := n.at(k, node)
		for j := range sums {
			if b, err = sums[j].AddEncoded(b); err != nil {
				return tally.ErrState
			}
		}
		// A weight towards a partner past the edge of the grid can only come from a damaged
		// document; it would be added to another node's.
		for j, d := range partners {
			x, y := node%columns+d[0], node/columns+d[1]
			if outside := x < 0 || x >= columns || y*columns >= len(n.nodes[k]); outside && sums[j].Float64() != 0 {
				return tally.ErrState
			}
		}
	}
	if len(b) > 0 {
		return tally.ErrState
	}
	return nil
}
