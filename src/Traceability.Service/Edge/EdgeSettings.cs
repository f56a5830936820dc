using System.Net;
using Microsoft.AspNetCore.HttpOverrides;
using Traceability.Service.Operations;

namespace Traceability.Service.Edge;

/// <summary>How the outside reaches the service: over HTTPS, here or at a proxy, or in plain HTTP from this machine alone.</summary>
/// <param name="Https">Whether people and stations come over HTTPS (Edge:Https). Then cookies are kept to it and browsers are told to come no other way.</param>
/// <param name="Proxies">Addresses of proxies whose forwarded headers are believed (Edge:Proxies, with commas between); nobody else's are.</param>
/// <param name="PlainFrom">Networks beside this machine itself from which plain HTTP is taken (Edge:PlainHttpFrom, in CIDR form, with commas between): a container sees the machine it runs on as another one.</param>
public sealed record EdgeSettings(bool Https, IReadOnlyList<IPAddress> Proxies, IReadOnlyList<System.Net.IPNetwork> PlainFrom)
{
    /// <exception cref="SettingException">A proxy is not named by its address, a network not in CIDR form, or the service's own names are not said where HTTPS is used.</exception>
    public static EdgeSettings Of(IConfiguration configuration)
    {
        var https = configuration.GetValue("Edge:Https", false);
        var proxies = new List<IPAddress>();
        foreach (var text in (configuration["Edge:Proxies"] ?? "").Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries))
            proxies.Add(IPAddress.TryParse(text, out var address) ? address : throw new SettingException($"Edge:Proxies: '{text}' is not an address. Name proxies by address, with commas between, for example 10.0.0.4."));
        var plain = new List<System.Net.IPNetwork>();
        foreach (var text in (configuration["Edge:PlainHttpFrom"] ?? "").Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries))
            plain.Add(System.Net.IPNetwork.TryParse(text, out var network) ? network : throw new SettingException($"Edge:PlainHttpFrom: '{text}' is not a network in CIDR form. Write it like 10.89.0.0/24, with commas between; leave it out where nothing but the machine itself comes in plain HTTP."));
        // A link in a page is made of the name that was asked for: a stranger's name would lead people away.
        if (https && configuration["AllowedHosts"] is null or "" or "*")
            throw new SettingException("AllowedHosts is not set. With Edge:Https name the hosts under which people and stations reach the service, with semicolons between, for example trace.plant.example.");
        return new(https, proxies, plain);
    }

    /// <summary>Whether plain HTTP is taken from an address.</summary>
    public bool TakesPlainFrom(IPAddress address)
    {
        var plain = address.IsIPv4MappedToIPv6 ? address.MapToIPv4() : address;
        return IPAddress.IsLoopback(plain) || PlainFrom.Any(n => n.Contains(plain));
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
