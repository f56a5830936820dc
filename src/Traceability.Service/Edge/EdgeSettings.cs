using System.Net;
using Microsoft.AspNetCore.HttpOverrides;
using Traceability.Service.Operations;

namespace Traceability.Service.Edge;

/// <summary>How the outside reaches the service: over HTTPS, here or at a proxy, or in plain HTTP from this machine alone.</summary>
/// <param name="Https">Whether people and stations come over HTTPS (Edge:Https). Then cookies are kept to it and browsers are told to come no other way.</param>
/// <param name="Proxies">Addresses of proxies whose forwarded headers are believed (Edge:Proxies, with commas between); nobody else's are.</param>
public sealed record EdgeSettings(bool Https, IReadOnlyList<IPAddress> Proxies)
{
    /// <exception cref="SettingException">A proxy is not named by its address, or the service's own names are not said where HTTPS is used.</exception>
    public static EdgeSettings Of(IConfiguration configuration)
    {
        var https = configuration.GetValue("Edge:Https", false);
        var proxies = new List<IPAddress>();
        foreach (var text in (configuration["Edge:Proxies"] ?? "").Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries))
            proxies.Add(IPAddress.TryParse(text, out var address) ? address : throw new SettingException($"Edge:Proxies: '{text}' is not an address. Name proxies by address, with commas between, for example 10.0.0.4."));
        // A link in a page is made of the name that was asked for: a stranger's name would lead people away.
        if (https && configuration["AllowedHosts"] is null or "" or "*")
            throw new SettingException("AllowedHosts is not set. With Edge:Https name the hosts under which people and stations reach the service, with semicolons between, for example trace.plant.example.");
        return new(https, proxies);
    }

    public ForwardedHeadersOptions Forwarded()
    {
        var options = new ForwardedHeadersOptions { ForwardedHeaders = ForwardedHeaders.XForwardedFor | ForwardedHeaders.XForwardedProto, ForwardLimit = 1 };
        options.KnownProxies.Clear();
        options.KnownIPNetworks.Clear();
        foreach (var proxy in Proxies) options.KnownProxies.Add(proxy);
        return options;
    }

    /// <summary>A cookie's name: with the prefix that binds it to this host and to HTTPS, where HTTPS is used (RFC 6265bis, section 4.1.3.2).</summary>
    public string Cookie(string name) => Https ? "__Host-" + name : name;
}
