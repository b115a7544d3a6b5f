package grid_test

import (
	"fmt"
	"os"

	"calsplice/tables/grid"
)

// What was copied out of an editor becomes a table, and goes back.
func Example() {
	raw, err := grid.Read([]byte("mg\\rpm\t600\t1200\n120\t12,5\t18\n240\t10\t16\n"), "pasted", 0)
	if err != nil {
		panic(err)
	}
	x, _ := grid.ParseAxis("engine speed [r/min]")
	y, _ := grid.ParseAxis("air charge [mg]")
	order := grid.Order{ID: "spark.advance", Unit: "deg", UnitSet: true, X: &x, Y: &y}
	doc, _, err := order.Take(raw)
	if err != nil {
		panic(err)
	}
	grid.Write(os.Stdout, doc.Table("spark.advance"), grid.Dress{Comma: ','})

	// A number that may be read either way is not guessed at.
	raw, _ = grid.Read([]byte("\t1,000\t2,000\n20\t1\t2\n"), "pasted", 0)
	_, _, err = order.Take(raw)
	fmt.Println(err)
	// Output:
	// ,600,1200
	// 120,12.5,18
	// 240,10,16
	// pasted:1:2: "1,000" may have a decimal mark or a thousands separator: say which with --decimal . or --decimal ,
}
