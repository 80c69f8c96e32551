package standards

import "math"

// FibrePart is one piece of fibre along a run.
type FibrePart struct {
	Fibre   FibreType
	LengthM float64 // 0 where not recorded
}

// FibrePath is a run of fibre from its near to its far optic.
type FibrePath struct {
	Parts      []FibrePart // in order from near to far, cords included
	Connectors int         // mated pairs; 0 counts as none, so whoever does not know them says so
	Splices    int
}

// PathLoss is the loss of a path in one direction, in dB.
type PathLoss struct {
	Least, Most float64 // Least: fibre and connections at their best by common practice; Most: all at the standard's maximum
	Mismatch    float64 // of it by cores and apertures that differ, in this direction, at most
}

// Losses of a connection in dB: the most by ANSI/TIA-568.3-D (both printed),
// what a good one has by common practice, no source. A claim of 0.5 dB a mated
// pair, seen in training material, is that of a reference-grade test cord.
const (
	connectorLeast, connectorMost = 0.2, 0.75
	spliceLeast, spliceMost       = 0.1, 0.3
)

// LengthM is the whole path's length in metres; false where a part's length
// is not recorded, or there is none.
func (path FibrePath) LengthM() (float64, bool) {
	total := 0.0
	for _, part := range path.Parts {
		if !(part.LengthM > 0) { // nor what is no number
			return 0, false
		}
		total += part.LengthM
	}
	return total, len(path.Parts) > 0
}

// Loss is the loss of the path at a wavelength in nm, of light that travels
// from the near to the far end or back. It reports false where a length or a
// coefficient is not known.
func (path FibrePath) Loss(nm float64, towardsNear bool) (PathLoss, bool) {
	if _, ok := path.LengthM(); !ok {
		return PathLoss{}, false
	}
	loss := PathLoss{
		Least: float64(path.Connectors)*connectorLeast + float64(path.Splices)*spliceLeast,
		Most:  float64(path.Connectors)*connectorMost + float64(path.Splices)*spliceMost,
	}
	var from FibreType
	for i := range path.Parts {
		part := path.Parts[path.along(i, towardsNear)]
		least, most, _, ok := part.Fibre.attenuation(nm)
		if !ok {
			return PathLoss{}, false
		}
		unlikeLeast, unlikeMost := mismatch(from, part.Fibre)
		loss.Least += least*part.LengthM/1000 + unlikeLeast
		loss.Most += most*part.LengthM/1000 + unlikeMost
		loss.Mismatch += unlikeMost
		from = part.Fibre
	}
	return loss, true
}

// ofOneKind tells whether all parts are of one fibre, so that both directions
// lose alike.
func (path FibrePath) ofOneKind() bool {
	for i := range path.Parts {
		if path.Parts[i].Fibre != path.Parts[0].Fibre {
			return false
		}
	}
	return true
}

// along turns the order of the parts for light that travels towards the near
// end.
func (path FibrePath) along(i int, towardsNear bool) int {
	if towardsNear {
		return len(path.Parts) - 1 - i
	}
	return i
}

// enters is the first fibre that the light meets, of a path that has any.
func (path FibrePath) enters(towardsNear bool) FibreType {
	return path.Parts[path.along(0, towardsNear)].Fibre
}

// mismatch is the loss in dB where light leaves one fibre for another of other
// core or aperture. From small to large nothing is lost. The most is that of a
// core filled evenly, 20·log10 of both ratios (memory); the least what a TIA
// table of coupling losses gives as practical. From multimode to single mode
// 17 to 20 dB are printed, the formula gives more for 62.5 µm: the most counts.
func mismatch(from, to FibreType) (least, most float64) {
	if from.SingleMode || !from.Known() || !to.Known() || from.CoreUM <= to.CoreUM && from.Aperture <= to.Aperture {
		return 0, 0
	}
	most = ratioLoss(from.CoreUM, to.CoreUM) + ratioLoss(from.Aperture, to.Aperture)
	if to.SingleMode {
		return multimodeIntoSingleLeast, max(most, multimodeIntoSingleMost)
	}
	return min(practicalMismatch[[2]float64{from.CoreUM, to.CoreUM}], most), most
}

// Printed range of the loss from multimode to single mode, in dB.
const multimodeIntoSingleLeast, multimodeIntoSingleMost = 17, 20

// practicalMismatch is the least of the printed practical range, by the cores.
var practicalMismatch = map[[2]float64]float64{
	{62.5, 50}: 0.9, {85, 50}: 3.0, {85, 62.5}: 0.9, {100, 50}: 4.7, {100, 62.5}: 2.1, {100, 85}: 0.9,
}

func ratioLoss(from, to float64) float64 {
	return max(0, 20*math.Log10(from/to))
}
