package web_test

import (
	"net"
	"strings"
	"testing"

	"phasewright/web/webtest"
)

type brittleListener struct{ net.Listener }

func (brittleListener) Accept() (net.Conn, error) { panic("a broken invariant") }

func (brittleListener) Close() error { return nil }

func (brittleListener) Addr() net.Addr { return &net.TCPAddr{} }

func TestAListenerThatBreaksIsToldOf(t *testing.T) {
	var l webtest.Lines
	s := webtest.NewShop(t, webtest.Logged(&l))
	if err := s.Serve(t.Context(), brittleListener{}); err == nil || !strings.Contains(err.Error(), "start it again") {
		t.Errorf("error %v", err)
	}
	if line := l.With(t, `msg="listening broke down"`); !strings.Contains(line, "a broken invariant") {
		t.Error(line)
	}
}
