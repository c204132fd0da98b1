package thingap_test

import (
	"testing"

	"peelcheck/preflight/rules/thingap"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, thingap.Rule) }
