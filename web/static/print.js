for(let t of document.querySelectorAll("[data-print]"))t.hidden=!1,t.addEventListener("click",()=>print());
