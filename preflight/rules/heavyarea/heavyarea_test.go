package heavyarea_test

import (
	"testing"

	"peelcheck/preflight/rules/heavyarea"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, heavyarea.Rule) }
