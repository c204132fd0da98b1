package serving

import (
	"net"
	"net/http"
	"net/netip"
	"os"
	"strconv"
	"strings"
)

// Who may speak to the page: browsers that were led here by its own address, and no other site through them.

// guard knows the addresses that the page answers under.
type guard struct {
	port     string
	loopback bool   // it listens for this machine alone
	machine  string // the machine's name
}

// newGuard is for a page that listens at an address.
func newGuard(at net.Addr) guard {
	g := guard{}
	if ip, port, ok := ipOf(at.String()); ok {
		g.port, g.loopback = port, ip.IsLoopback()
	}
	g.machine, _ = os.Hostname()
	return g
}

// ipOf splits an address into its number and port.
func ipOf(addr string) (ip netip.Addr, port string, ok bool) {
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return netip.Addr{}, "", false
	}
	ip, err = netip.ParseAddr(host)
	return ip.Unmap(), port, err == nil
}

// IsLoopback reports whether only this machine reaches an address.
func IsLoopback(at net.Addr) bool {
	ip, _, ok := ipOf(at.String())
	return ok && ip.IsLoopback()
}

// allows reports whether a request's Host is an address of this page. A number cannot be made to lead elsewhere by a name server, and
// neither can the machine's own name; any other name may be a stranger's that was made to lead here.
func (g guard) allows(host string) bool {
	name, port, err := net.SplitHostPort(host)
	if err != nil {
		name, port = strings.Trim(host, "[]"), "80"
	}
	if port != g.port {
		return false
	}
	if strings.EqualFold(name, "localhost") {
		return true
	}
	if ip, err := netip.ParseAddr(name); err == nil {
		return ip.Unmap().IsLoopback() || !g.loopback
	}
	return !g.loopback && g.machine != "" && (strings.EqualFold(name, g.machine) || strings.EqualFold(name, g.machine+".local"))
}

// policy lets pages load nothing but what this server serves as files: no inline script or style, no frames, no other site.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guarded refuses what other sites send through a browser, and forbids browsers to let other sites in.
func guarded(g guard, next http.Handler) http.Handler {
	crossOrigin := http.NewCrossOriginProtection() // by Sec-Fetch-Site and Origin
	crossOrigin.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		http.Error(w, "This was sent by another site, so it was refused. Open the page itself and send it from there.", http.StatusForbidden)
	}))
	inner := crossOrigin.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "no-store") // customers' artwork stays in no cache
		if !g.allows(r.Host) {
			http.Error(w, "This page answers only under its own address, which "+strconv.Quote(r.Host)+" is not. Use the address that peelcheck serve printed.", http.StatusForbidden)
			return
		}
		inner.ServeHTTP(w, r)
	})
}
