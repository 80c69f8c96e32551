package web

import (
	"net/http"
)

// Recording is how the recording of what polls tell goes.
type Recording struct {
	Failing string `json:"failing,omitempty"` // why nothing is recorded; "" where it is
	Lost    uint64 `json:"lost_polls"`        // of which nothing or not all was recorded
}

// recording is nil where no history is kept here.
func (s Source) recording() *Recording {
	if s.Recording == nil {
		return nil
	}
	r := s.Recording()
	return &r
}

// numbersSection tells of a history that is not recorded; there is none to
// look at where it is.
func numbersSection(r *Recording) []section {
	if r == nil || r.Failing == "" {
		return nil
	}
	out := section{
		ID: "numbers", Title: "Numbers over time", Figure: "What polls tell is not recorded now.",
		Stake: "Graphs and timelines will have a gap here. Faults are found all the same.",
	}
	out.mend(block{Key: "unrecorded", Title: "Not recorded", Items: []item{{Text: clippedAt(r.Failing, mostText)}},
		Text: "Recording goes on by itself once this is mended."})
	return []section{out}
}

// numbers lets questions to the history through. They may be posted, since they
// can be long, but not by a page of another site, on a visitor's behalf.
func (s Source) numbers() http.Handler {
	if s.Numbers == nil {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			jsonRefusal(w, r, refused(http.StatusNotFound, "no history is kept here: history.directory in the configuration says where it would be"))
		})
	}
	otherwise := readOnly(jsonRefusal, s.Numbers)
	own := http.NewCrossOriginProtection().Handler(s.Numbers)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			own.ServeHTTP(w, r)
			return
		}
		otherwise.ServeHTTP(w, r)
	})
}
