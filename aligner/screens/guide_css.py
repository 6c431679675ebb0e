"""Where everything stands on the guide, and what is left out in a small window or beside a curve."""

GUIDE_CSS = """
    Guide { layout: vertical; }
    Guide > Static { width: 1fr; }
    #head { height: 1; background: $panel; text-style: bold; }
    #ask { height: auto; max-height: 8; text-style: bold; }
    #place, #why { height: auto; max-height: 2; color: $secondary; }
    #lower { height: 1fr; }
    #lower > Static { width: 1fr; height: 1fr; }
    #log { margin-left: 2; }
    #coach { height: auto; max-height: 4; background: $panel; color: $accent; }
    #entry { height: 1; background: $panel; text-style: bold; }
    #note { height: auto; min-height: 1; max-height: 4; color: $accent; }
    #foot { height: 1; color: $secondary; }
    #chart { display: none; }
    Guide.cramped #lower, Guide.cramped #why, Guide.cramped #place { display: none; }
    Guide.cramped #ask { max-height: 3; }
    Guide.zoomed #lower { display: none; }
    Guide.charted #chart { display: block; }
    Guide.charted.low #ask, Guide.charted.low #place, Guide.charted.low #why { display: none; }
    Guide.charted.low Large { display: none; }
    Guide #brief { display: none; }
    Guide.low #brief { display: block; }
    Guide.charted #lower { display: none; }
"""
