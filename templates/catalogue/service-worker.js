{% load static %}/* Keeps one page with its styles for when there is no network. Nothing else is stored or answered from here. */
"use strict";
const STORE = "offline-{{ mark }}";
const PAGE = "{% url 'catalogue:offline' %}";
const FILES = [
  "{% static 'css/tokens.css' %}",
  "{% static 'css/base.css' %}",
  "{% static 'css/layout.css' %}",
  "{% static 'css/components.css' %}",
  "{% static 'catalogue/visitor.js' %}",
  "{% static 'icons/mark.svg' %}",
];

/* Without cookies: the stored page is that of somebody who is not signed in. */
const fresh = (address) => new Request(address, { credentials: "omit", cache: "reload" });

self.addEventListener("install", (event) => {
  const fill = async () => (await caches.open(STORE)).addAll([PAGE, ...FILES].map(fresh));
  event.waitUntil(fill().then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const tidy = async () => Promise.all((await caches.keys()).filter((name) => name !== STORE).map((name) => caches.delete(name)));
  event.waitUntil(tidy().then(() => self.clients.claim()));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET") return;
  if (request.mode === "navigate") event.respondWith(fetch(request).catch(() => caches.match(PAGE)));
  else if (FILES.includes(new URL(request.url).pathname)) event.respondWith(fetch(request).catch(() => caches.match(request)));
});
