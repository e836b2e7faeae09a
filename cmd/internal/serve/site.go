package serve

import (
	"crypto/sha256"
	_ "embed" // the parts of findings.html
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"html/template"
	"io"
	"io/fs"
	"mime"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/castwright/castwright/metadata"
)

// A site is the folder that is shown at present, and for a cruise whose casts arrive what was found.
type site struct {
	mu       sync.Mutex
	dir      string
	root     *os.Root
	live     bool   // the site is of a cruise whose casts arrive
	state    string // of the inputs of the folder that is shown; "" before there is one
	text     string
	findings []metadata.Finding
}

// show shows the files of a folder from now on, made from a state of the inputs.
func (s *site) show(dir, state string) error {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.root != nil {
		s.root.Close() //nolint:errcheck // it was open for reading
	}
	s.dir, s.root, s.state = dir, root, state
	return nil
}

// renew opens an archive again that was replaced by a newer one of its name.
func (s *site) renew() {
	was, err := s.root.Stat(".")
	is, err2 := os.Stat(s.dir)
	if err != nil || err2 != nil || os.SameFile(was, is) {
		return
	}
	if root, err := os.OpenRoot(s.dir); err == nil {
		s.root.Close() //nolint:errcheck // it was open for reading
		s.root = root
	}
}

func (s *site) close() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.root != nil {
		s.root.Close() //nolint:errcheck // it was open for reading
	}
	s.root = nil
}

// say sets what findings.html shows.
func (s *site) say(text string, findings []metadata.Finding) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.live, s.text, s.findings = true, text, findings
}

// guard lets through what a browser on this machine asks for by the name of this machine: a page from elsewhere whose
// name was made to mean this machine has its own name in Host.
func guard(port uint16, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-cache")
		switch {
		case !ownHost(r.Host, port):
			http.Error(w, "castwright serve answers to 127.0.0.1, [::1] and localhost only",
				http.StatusMisdirectedRequest)
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			h.Set("Allow", "GET, HEAD")
			http.Error(w, "castwright serve only reads", http.StatusMethodNotAllowed)
		default:
			next.ServeHTTP(w, r)
		}
	})
}

// ownHost reports whether a Host header names a loopback address with the port of this server.
func ownHost(host string, port uint16) bool {
	name, p, err := net.SplitHostPort(host)
	if err != nil || p != strconv.Itoa(int(port)) {
		return false
	}
	ip, err := netip.ParseAddr(name)
	return name == "localhost" || err == nil && ip.IsLoopback()
}

// ServeHTTP implements http.Handler.
func (s *site) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	name := strings.TrimPrefix(r.URL.Path, "/")
	if s.message(w, name) {
		return
	}
	if name == "" {
		name = "index.html"
	}
	folder := strings.HasSuffix(name, "/")
	name = strings.TrimSuffix(name, "/")
	f, info, err := s.open(name)
	if err != nil {
		http.Error(w, "no such file in this archive", http.StatusNotFound)
		return
	}
	defer f.Close()
	switch {
	case info.IsDir() != folder:
		http.Error(w, "no such file in this archive", http.StatusNotFound)
		return
	case folder:
		listing(w, f, name)
		return
	case name != "index.html": // the page has its own policy
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; sandbox")
	}
	w.Header().Set("Content-Type", typeOf(name))
	http.ServeContent(w, r, "", time.Time{}, f)
}

// message answers what the server itself has to say of a cruise whose casts arrive: what was found, and in a few words
// how far it is. It reports whether it did.
func (s *site) message(w http.ResponseWriter, name string) bool {
	s.mu.Lock()
	shown, live, m := s.state, s.live, findingsView{CSS: template.CSS(findingsCSS), JS: template.JS(findingsJS),
		Text: s.text, Shown: s.state != "", Findings: s.findings}
	s.mu.Unlock()
	switch {
	case !live:
		return false
	case name == "state.json":
		w.Header().Set("Content-Type", "application/json")
		//nolint:errcheck // the browser went away
		json.NewEncoder(w).Encode(map[string]string{"shown": shown, "text": m.Text})
	case name == "findings.html" || shown == "" && (name == "" || name == "index.html"):
		w.Header().Set("Content-Security-Policy", findingsPolicy)
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		findingsTemplate.Execute(w, m) //nolint:errcheck // as in writePage
	default:
		return false
	}
	return true
}

// errName is the cause of an error for a name that is no file of the archive.
var errName = errors.New("not a name in an archive")

// open opens a file or folder below the root. Links are refused, wherever they lead.
func (s *site) open(name string) (*os.File, fs.FileInfo, error) {
	if !fs.ValidPath(name) || name == "." || strings.ContainsAny(name, "\\\x00") {
		return nil, nil, errName
	}
	s.mu.Lock() // while it is opened; a file that is open is sent whatever is shown then
	defer s.mu.Unlock()
	if s.root == nil {
		return nil, nil, errName
	}
	s.renew()
	for at := range len(name) + 1 {
		if at < len(name) && name[at] != '/' {
			continue
		}
		info, err := s.root.Lstat(name[:at])
		if err != nil {
			return nil, nil, err
		}
		if !info.IsDir() && !info.Mode().IsRegular() {
			return nil, nil, errName
		}
	}
	f, err := s.root.Open(name)
	if err != nil {
		return nil, nil, err
	}
	info, err := f.Stat()
	if err != nil {
		f.Close() //nolint:errcheck // open for reading
		return nil, nil, err
	}
	return f, info, nil
}

// What findings.html is made of.
var (
	//go:embed findings.html
	findingsHTML string
	//go:embed findings.css
	findingsCSS string
	//go:embed findings.js
	findingsJS string
)

var findingsTemplate = template.Must(template.New("findings").Parse(findingsHTML))

// findingsPolicy lets the findings ask the server, and nobody else, for newer ones.
var findingsPolicy = func() string {
	sum := sha256.Sum256([]byte(findingsJS))
	return "default-src 'none'; style-src 'unsafe-inline'; connect-src 'self'; base-uri 'none'; form-action 'none'; " +
		"script-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}()

type findingsView struct {
	CSS, JS  any
	Text     string
	Shown    bool
	Findings []metadata.Finding
}

// types of files that the operating system may not have.
var types = map[string]string{".nc": "application/x-netcdf", ".csv": "text/csv; charset=utf-8",
	".txt": "text/plain; charset=utf-8", ".md": "text/plain; charset=utf-8", ".yaml": "text/plain; charset=utf-8",
	".json": "application/json", ".geojson": "application/geo+json", ".html": "text/html; charset=utf-8",
	".svg": "image/svg+xml", ".png": "image/png", ".pdf": "application/pdf", ".zip": "application/zip"}

func typeOf(name string) string {
	if t, ok := types[path.Ext(name)]; ok {
		return t
	}
	if t := mime.TypeByExtension(path.Ext(name)); t != "" {
		return t
	}
	return "application/octet-stream"
}

// listing writes the names of the files of a folder as links.
func listing(w http.ResponseWriter, f *os.File, name string) {
	entries, err := f.ReadDir(-1)
	if err != nil {
		http.Error(w, "the folder cannot be read", http.StatusInternalServerError)
		return
	}
	var b strings.Builder
	fmt.Fprintf(&b, "<!DOCTYPE html><html lang=\"en\"><title>%s</title><h1>%[1]s</h1><ul>", html.EscapeString(name))
	names := make([]string, 0, len(entries))
	for _, e := range entries {
		if e.Type().IsRegular() {
			names = append(names, e.Name())
		}
	}
	slices.Sort(names)
	for _, n := range names {
		fmt.Fprintf(&b, "<li><a href=\"./%s\">%s</a></li>", html.EscapeString(url.PathEscape(n)), html.EscapeString(n))
	}
	b.WriteString("</ul></html>\n")
	writePage(w, b.String())
}

func writePage(w http.ResponseWriter, page string) {
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'")
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	io.WriteString(w, page) //nolint:errcheck // the browser went away
}
