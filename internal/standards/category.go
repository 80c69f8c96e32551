package standards

// Category is a category of balanced copper cabling, as ISO/IEC 11801-1 and
// ANSI/TIA-568.2-D name it; "" is not recorded.
type Category string

// The categories in rising order.
const (
	Cat3  Category = "3"
	Cat5  Category = "5"
	Cat5e Category = "5e"
	Cat6  Category = "6"
	Cat6A Category = "6A"
	Cat7  Category = "7"
	Cat7A Category = "7A"
	Cat8  Category = "8"
)

// Shield is a cable's screens by the letters of ISO/IEC 11801-1: overall
// screen / screen of the pairs, e.g. U/UTP, F/UTP, S/FTP; "" is not recorded.
type Shield string
