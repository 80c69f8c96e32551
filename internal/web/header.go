package web

import (
	"embed"
	"fmt"
	"hash/fnv"
	"io/fs"
	"net/http"
	"strings"
)

// withHeaders sets what every answer carries. The policy allows this
// server's own files alone, so a string that slipped through as markup could
// still run nothing and load nothing.
func withHeaders(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// readOnly lets GET and HEAD through.
func readOnly(refuse refusal, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodGet || r.Method == http.MethodHead {
			next.ServeHTTP(w, r)
			return
		}
		w.Header().Set("Allow", "GET, HEAD")
		refuse(w, r, refused(http.StatusMethodNotAllowed, "%s is not allowed here; this address only gives (GET)", r.Method))
	})
}

//go:embed static
var staticFiles embed.FS

// static serves the style sheet and the script. A browser asks again each
// time and is told by the tag that nothing changed.
func static() http.Handler {
	tags := map[string]string{}
	paths, err := fs.Glob(staticFiles, "static/*")
	if err != nil {
		panic(err) // the pattern is constant
	}
	for _, path := range paths {
		content, err := staticFiles.ReadFile(path)
		if err != nil {
			panic(err) // it was just listed
		}
		sum := fnv.New64a()
		sum.Write(content)
		tags["/"+path] = fmt.Sprintf(`"%x"`, sum.Sum64())
	}
	files := http.FileServerFS(staticFiles)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		tag, ok := tags[r.URL.Path]
		if !ok || strings.HasSuffix(r.URL.Path, "/") {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("ETag", tag)
		w.Header().Set("Cache-Control", "no-cache")
		files.ServeHTTP(w, r)
	})
}
