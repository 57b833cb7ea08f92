// Nothing above runs before this; without it plans and tables stand as they are.

document.documentElement.classList.add("has-script");
startPlans();
startFilters();
startTables();
applyFilter();
startPanel();
