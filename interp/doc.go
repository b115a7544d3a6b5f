// Package interp reads tables between their breakpoints: bilinear
// interpolation, tables on other axes, and the exact difference of two
// surfaces whose axes differ.
//
// A table is a surface: linear between neighbouring breakpoints along each
// axis. [NewSurface] makes the form that reads it at points in any order; [Lay]
// reads it at every node of a grid. [Resample] makes a new table on other axes
// and says exactly what was lost; [Resampled.Advise] says which breakpoints would
// keep it. [Compare] measures how far two
// tables are apart.
//
// What happens past an axis's ends is always a named argument, [Outside], and
// never a silent default; only [Compare], [Lay] and [Surface] have no
// choice, since they look at tables as a controller does: it holds the edge.
//
// Promised: at a breakpoint of the table the value is the table's own, to the
// bit; the same input gives the same bits on every machine (products are
// rounded before they are added, so that no processor fuses them).
//
// Deliberately not here: any smoothing or curve through the points. Controllers
// interpolate linearly, and a table is judged by what the controller makes of
// it.
package interp
