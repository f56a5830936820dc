using Microsoft.AspNetCore.Components.Web;
using Microsoft.AspNetCore.Components.WebAssembly.Hosting;
using Traceability.Kiosk;
using Traceability.Kiosk.Bundle;
using Traceability.Kiosk.Device;
using Traceability.Kiosk.Entries;
using Traceability.Kiosk.Parts;
using Traceability.Kiosk.People;

var builder = WebAssemblyHostBuilder.CreateDefault(args);
builder.RootComponents.Add<App>("#app");
builder.RootComponents.Add<HeadOutlet>("head::after");
// The app lives under /kiosk/, the service it talks to at the root of the same origin.
builder.Services.AddSingleton(new HttpClient { BaseAddress = new Uri(new Uri(builder.HostEnvironment.BaseAddress), "/") });
builder.Services.AddSingleton(TimeProvider.System);
builder.Services.AddSingleton<Browser>();
builder.Services.AddSingleton<PlantClock>();
builder.Services.AddSingleton<ThisDevice>();
builder.Services.AddSingleton<Service>();
builder.Services.AddSingleton<Session>();
builder.Services.AddSingleton<Outbox>();
builder.Services.AddSingleton<OfflineBundle>();
builder.Services.AddSingleton<Delivery>();
builder.Services.AddSingleton<OpenPad>();

var host = builder.Build();
await host.Services.GetRequiredService<PlantClock>().LoadAsync();
await host.Services.GetRequiredService<ThisDevice>().LoadAsync();
await host.Services.GetRequiredService<Outbox>().LoadAsync();
await host.Services.GetRequiredService<OfflineBundle>().LoadAsync();
_ = host.Services.GetRequiredService<Delivery>().RunAsync();
await host.RunAsync();
