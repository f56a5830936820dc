using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;

namespace Traceability.Faults.Tests;

/// <summary>An authority that signs certificates of servers, made for one test.</summary>
public sealed class TestAuthority : IDisposable
{
    private const string ServerAuthentication = "1.3.6.1.5.5.7.3.1";

    private readonly ECDsa _key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
    private readonly X509Certificate2 _certificate;

    public TestAuthority(string name)
    {
        var request = new CertificateRequest($"CN={name}", _key, HashAlgorithmName.SHA256);
        request.CertificateExtensions.Add(new X509BasicConstraintsExtension(true, true, 0, true));
        request.CertificateExtensions.Add(new X509KeyUsageExtension(X509KeyUsageFlags.KeyCertSign | X509KeyUsageFlags.CrlSign, true));
        request.CertificateExtensions.Add(new X509SubjectKeyIdentifierExtension(request.PublicKey, false));
        _certificate = request.CreateSelfSigned(From, Until);
    }

    // The clock of the machine is the one the servers look at too.
    private static DateTimeOffset From => TimeProvider.System.GetUtcNow().AddHours(-1);

    private static DateTimeOffset Until => TimeProvider.System.GetUtcNow().AddDays(1);

    /// <summary>Writes the authority's own certificate.</summary>
    public string Save(string file)
    {
        File.WriteAllText(file, _certificate.ExportCertificatePem());
        return file;
    }

    /// <summary>Writes server.crt and server.key for a host, which is a name or an address, into a folder that <c>ops/servers</c> looks into.</summary>
    public void SaveServer(string folder, string host)
    {
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest($"CN={host}", key, HashAlgorithmName.SHA256);
        var names = new SubjectAlternativeNameBuilder();
        if (IPAddress.TryParse(host, out var address)) names.AddIpAddress(address);
        else names.AddDnsName(host);
        request.CertificateExtensions.Add(names.Build());
        request.CertificateExtensions.Add(new X509BasicConstraintsExtension(false, false, 0, true));
        request.CertificateExtensions.Add(new X509EnhancedKeyUsageExtension([new Oid(ServerAuthentication)], false));
        request.CertificateExtensions.Add(X509AuthorityKeyIdentifierExtension.CreateFromCertificate(_certificate, true, false));
        using var certificate = request.Create(_certificate, From.AddMinutes(1), Until.AddMinutes(-1), RandomNumberGenerator.GetBytes(8));
        Directory.CreateDirectory(folder);
        File.WriteAllText(Path.Combine(folder, "server.crt"), certificate.ExportCertificatePem());
        File.WriteAllText(Path.Combine(folder, "server.key"), key.ExportPkcs8PrivateKeyPem());
    }

    public void Dispose()
    {
        _certificate.Dispose();
        _key.Dispose();
    }
}
