package manual_test

import (
	"testing"

	"phasewright/web/webtest"
)

func TestMain(m *testing.M) { webtest.Main(m) }
