// Package formula computes values from a drive log's channels: the expressions of
// filters and of people's own definitions, such as coolant >= 70 && trim > 5.
//
// [Compile] turns the text of an expression into a [Node], which computes a run of
// rows at a time. It knows nothing of logs: whoever compiles says what each name
// stands for. [Definition] is a name given to such an expression; [CheckRings]
// refuses definitions that are made of each other.
//
// What it promises: a value that is missing makes what is computed from it missing,
// tests included; arithmetic, comparisons and logic cost a plain loop, and whatever
// else the expression language has gives the same values, only slower. An
// expression that fails on every row is refused before the first.
//
// What it leaves out: which channels there are, how they are derived from each
// other, and where the readings come from.
package formula
