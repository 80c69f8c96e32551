package web

import "net/http"

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
