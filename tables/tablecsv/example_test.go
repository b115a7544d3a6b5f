package tablecsv_test

import (
	"fmt"
	"os"

	"calsplice/tables/tablecsv"
)

// A spreadsheet set to another language saved this; it is written as it was
// meant. Text that a spreadsheet would run stays text.
func Example() {
	c, cautions, err := tablecsv.Parse([]byte("calsplice;1;calibration\r\nname;=1+1\r\n\r\n"+
		"table;offset\r\nunit;ms\r\nx;battery voltage;V\r\n;8;10,5\r\n;3;2,25\r\n"), "van.csv")
	if err != nil {
		panic(err)
	}
	fmt.Println(cautions)
	tablecsv.Write(os.Stdout, c)
	// Output:
	// van.csv: the last line "end" is missing: the file may have been cut
	// calsplice,1,calibration
	// name,'=1+1
	//
	// table,offset
	// unit,ms
	// x,battery voltage,V
	// ,8,10.5
	// ,3,2.25
	//
	// end
}
