package tablejson_test

import (
	"fmt"
	"os"

	"calsplice/tables/tablejson"
)

// A document is read, with every fault told, and written in its canonical form.
func Example() {
	_, err := tablejson.Parse([]byte(`{"format": "calsplice/1", "Name": "van",
 "tables": [{"id": "gain", "unit": "%", "resolution": 0, "values": NaN}]}`), "van.json")
	fmt.Println(err)

	c, err := tablejson.Parse([]byte(`{"tables": [{"values": [3.0, 2.50, 2],
 "x": {"points": [8, 10, 12], "unit": "V"}, "unit": "ms", "id": "offset"}], "format": "calsplice/1"}`), "van.json")
	if err != nil {
		panic(err)
	}
	tablejson.Write(os.Stdout, c)
	// Output:
	// van.json:1:27: Name: there is no key "Name": did you mean name?
	// van.json:2:55: tables[0].resolution: found 0, expected a number above 0
	// van.json:2:68: tables[0].values: found NaN, expected a number
	// {
	//   "format": "calsplice/1",
	//   "tables": [
	//     {
	//       "id": "offset",
	//       "unit": "ms",
	//       "x": {"unit": "V", "points": [8, 10, 12]},
	//       "values": [3, 2.5, 2]
	//     }
	//   ]
	// }
}
