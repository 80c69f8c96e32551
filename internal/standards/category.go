package standards

import "strings"

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

// categories lists the categories, rising, with the class of ISO/IEC 11801-1
// that their components make and the highest frequency they are specified to,
// in MHz: 16 to 600 from ISO/IEC 11801-1 table 1, the rest from
// ANSI/TIA-568.2-D and memory. ISO's class D is Category 5e since 2002; that of
// 1995 is Category 5. Categories 8.1 and 8.2 make classes I and II.
var categories = []struct {
	category Category
	class    string
	widthMHz float64
}{
	{Cat3, "C", 16},
	{Cat5, "D:1995", 100},
	{Cat5e, "D", 100},
	{Cat6, "E", 250},
	{Cat6A, "EA", 500},
	{Cat7, "F", 600},
	{Cat7A, "FA", 1000},
	{Cat8, "I", 2000},
}

// otherNames are further names of categories, in small letters.
var otherNames = map[string]Category{"d:2002": Cat5e, "ii": Cat8, "8.1": Cat8, "8.2": Cat8}

// ParseCategory reads a category or a class as people write it: "6A",
// "cat 6a", "Category 5e", "EA", "Class D:2002". It reports false for anything
// else, the empty text included.
func ParseCategory(text string) (Category, bool) {
	word := strings.ToLower(strings.Join(strings.Fields(text), ""))
	for _, prefix := range []string{"category", "class", "cat.", "cat"} {
		if rest, ok := strings.CutPrefix(word, prefix); ok {
			word = strings.TrimLeft(rest, "-_")
			break
		}
	}
	for _, row := range categories {
		if word == strings.ToLower(string(row.category)) || word == strings.ToLower(row.class) {
			return row.category, true
		}
	}
	c, ok := otherNames[word]
	return c, ok
}

// Categories lists the categories in rising order.
func Categories() []Category {
	list := make([]Category, len(categories))
	for i, row := range categories {
		list[i] = row.category
	}
	return list
}

// rank is the place in the rising order, -1 where the category is not known.
func (c Category) rank() int {
	for i := range categories {
		if categories[i].category == c {
			return i
		}
	}
	return -1
}

// Known tells whether it is one of Categories.
func (c Category) Known() bool { return c.rank() >= 0 }

// Below tells whether c stands under o; false where either is not known.
func (c Category) Below(o Category) bool {
	return c.Known() && o.Known() && c.rank() < o.rank()
}

// Class is the class of ISO/IEC 11801-1 that components of the category make;
// "" where the category is not known.
func (c Category) Class() string {
	if !c.Known() {
		return ""
	}
	return categories[c.rank()].class
}

// WidthMHz is the highest frequency that the category is specified to; 0 where
// it is not known.
func (c Category) WidthMHz() float64 {
	if !c.Known() {
		return 0
	}
	return categories[c.rank()].widthMHz
}

// Shield is a cable's screens by the letters of ISO/IEC 11801-1: overall
// screen / screen of the pairs, e.g. U/UTP, F/UTP, S/FTP; "" is not recorded.
type Shield string

// Screened tells whether the cable has any screen; false where none is
// recorded. FTP and STP, the names from before those letters, count.
func (s Shield) Screened() bool {
	overall, _, both := strings.Cut(string(s), "/")
	if both {
		return strings.ContainsAny(overall, "FS") || s.screenedPairs()
	}
	return overall == "FTP" || overall == "STP" || overall == "ScTP"
}

// screenedPairs tells whether each pair has a screen of its own.
func (s Shield) screenedPairs() bool {
	_, pairs, both := strings.Cut(string(s), "/")
	return both && (strings.HasPrefix(pairs, "F") || strings.HasPrefix(pairs, "S"))
}
