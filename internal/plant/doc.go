// Package plant is the inventory: the runs of a site with their cables,
// panels and pathways, and which switch port belongs to which run.
//
// Load reads the YAML file and the CSV files that it names. It is strict: an
// unknown key, a value outside its vocabulary, a duplicate id or a reference
// to something that is in no list is a Problem with file, line and the row's
// id. All problems of all files come at once. A bad row is lost whole, since
// half a truth misleads; the other rows stay. A row that refers to a thing
// whose own row was lost stays, or one typing error in a cable would take
// every run of that cable along; Cable and its like then give nil.
//
// The keys stand in one table (keys.go), from which YAML and CSV are both
// read, so the two cannot differ.
//
// Join pairs the ports that switches show with the ends of runs: by the
// record's port (ifName, then ifDescr, then ifIndex), then by the label in a
// port's description, then by what ports hear (IEEE 802.1AB). It never
// guesses. Where record, description and neighbours contradict each other, or
// two runs claim one port, the port joins nothing and the conflict is listed,
// since the wrong run is worse than none.
//
// Draft makes a first file of runs from the ports seen, and brings one up to
// date without touching what a person wrote. Stale lists the rows that no
// longer fit what is seen, and Worse what an edit broke.
//
// The package is pure but for Load, which reads files.
package plant
