"""The sample job: a heater blower that runs at full speed only, and the script that makes its captures."""
