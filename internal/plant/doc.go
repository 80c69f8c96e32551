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
// Acceptance judges the values measured when a run was installed against the
// standards' limit lines, and reads the wire map, whose text is our own: "pass",
// "fail", or near and found pins with x for open, = for shorts and the pairs that
// the tester found split, such as
//
//	1-1 2-2 3-6 6-3 4-4 5-5 7-x 8-8 S-S 4=5 split 3-6/4-5
//
// A row's class names the line, e.g. "EA" or "Cat 6 channel", or of a fibre the
// grade and wavelength, "OM4 850". Pairs are written 12-36; left empty, a value is
// the worst of all pairs.
//
// Expected judges every nominal speed over a run: the cable's own verdict, and
// apart from it what stands at the ends. Parts that are not recorded can make a
// run worse, never better, so a no holds whatever else is written down; cords
// that are not recorded may be 10 m, connectors of fibre count as one at each
// end. Ready draws on it, the tests and the damaged frames to answer whether a
// run is ready for a speed.
//
// Audit asks every run the rules of one table (rules.go). Each finding says what
// it breaks, by how much, by which source, how sure and what would mend it. One
// cause is told once: a rule is silent where a graver one told the same; what is
// not recorded breaks no rule but those that ask for it. Spare runs are asked for
// their record only, abandoned ones only not to contradict themselves.
//
// The package is pure but for Load, which reads files.
package plant
