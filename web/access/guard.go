package access

import (
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
)

// policy is the content-security policy of every answer: nothing from elsewhere, no script or style inside a page.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; " +
	"connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; manifest-src 'self'"

// Secure sets the headers that every answer carries.
func Secure(h http.Header) {
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "same-origin") // no-referrer would make browsers send "Origin: null" with our own forms
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
	h.Set("Cache-Control", "no-store")
}

// hostAllowed says whether the request was addressed to a name that this server goes by. A page elsewhere whose name
// was pointed at this computer (DNS rebinding) arrives under its own name and is turned away. Addresses cannot be
// pointed elsewhere.
func (a *Room) hostAllowed(r *http.Request) bool {
	name := strings.ToLower(hostName(r.Host))
	if name == "localhost" {
		return true
	}
	if ip, err := netip.ParseAddr(name); err == nil && (ip.IsLoopback() || cameInAt(r, ip)) {
		return true
	}
	return a.hosts[name]
}

// hostName takes the port and the brackets off a Host value.
func hostName(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		return name
	}
	return strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
}

// sameOrigin says whether a request that changes something came from one of our own pages. Browsers send Origin with
// every POST; a request without it is refused unless the browser vouches for it in Sec-Fetch-Site.
func sameOrigin(r *http.Request) bool {
	if site := r.Header.Get("Sec-Fetch-Site"); site != "" && site != "same-origin" {
		return false
	}
	origin := r.Header.Get("Origin")
	if origin == "" {
		return r.Header.Get("Sec-Fetch-Site") == "same-origin"
	}
	u, err := url.Parse(origin)
	if err != nil || !strings.EqualFold(u.Host, r.Host) {
		return false
	}
	want := "http"
	if r.TLS != nil {
		want = "https"
	}
	return u.Scheme == want
}

// forwarding are the headers by which a proxy or tunnel says that it passes on what somebody else asks (RFC 7239,
// RFC 9110 section 7.6.3, and common practice).
var forwarding = []string{"Forwarded", "Via", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto",
	"X-Forwarded-Port", "X-Forwarded-Server", "X-Real-Ip"}

// atHost says whether the request comes from this computer itself. One that a proxy on this computer passes on does
// not, wherever it began.
func atHost(r *http.Request) bool {
	for _, name := range forwarding {
		if _, ok := r.Header[name]; ok {
			return false
		}
	}
	ip, err := netip.ParseAddrPort(r.RemoteAddr)
	return err == nil && ip.Addr().Unmap().IsLoopback()
}

// Remote is the sender's address without the port; what rate limits count by. Addresses of one /64 count as one,
// since a single device may pick any of them.
func Remote(r *http.Request) string {
	ip, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return "unknown"
	}
	a := ip.Addr().Unmap().WithZone("")
	if a.Is6() {
		if p, err := a.Prefix(64); err == nil {
			return p.String()
		}
	}
	return a.String()
}

// cameInAt says whether the name is the very address that the connection came in at.
func cameInAt(r *http.Request, name netip.Addr) bool {
	local, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if !ok {
		return false
	}
	at, err := netip.ParseAddrPort(local.String())
	return err == nil && at.Addr().Unmap().WithZone("") == name.Unmap()
}
