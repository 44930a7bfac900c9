"""The batch that the page of the tests is made of: its texts are full of markup."""

MARKUP = '</title></script><script>alert(1)</script><img src=x onerror=alert(2)> & "quotes" \'too\' $x^2$ ${'
OPTION = "<b>twice</b> the base & $more$ </svg>"
BATCH = """
# a comment with </pre><script>alert(3)</script>
title = '''{title}'''
substrate = "prenal"

[charge]
water = "300 mL"
prenal = {{amount = "1 g", purity = 0.9, uncertainty = 0.05}}
"sodium carbonate" = "3 g"

[heating]
ramp = "20 min"
hold = "4 h"
temperature = "boil"
boil_up = "2 mL/min"
cooling = "20 min"

[condenser]
coolant = "15 degC"

[[addition]]
at = "2 h"
water = "20 mL"

[[option]]
name = "{option}"
charge."sodium carbonate" = "6 g"
"""
