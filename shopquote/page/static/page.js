// What every page has: that scripts run, so that buttons for those without them go away.
document.documentElement.classList.add("scripts");
