using System.Net.Security;
using System.Security.Authentication;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using MassTransit;
using RabbitMQ.Client;
using Traceability.Service.Operations;

namespace Traceability.Service.Intake;

/// <summary>
/// The way to the message broker. Over amqps:// the broker's certificate must name the host of the address and lead to an authority that the machine trusts, or to
/// the one in RabbitMq:Authority and no other. Both libraries are told so: by themselves they pass over another host's name.
/// </summary>
public sealed class BrokerConnection
{
    private readonly Uri _address;
    private readonly X509Certificate2Collection? _authority;

    private BrokerConnection(Uri address, X509Certificate2Collection? authority) => (_address, _authority) = (address, authority);

    /// <summary>Host and port, without user and password.</summary>
    public string Where => $"{_address.Host}:{Factory().Port}";

    /// <exception cref="SettingException">There is no address, it is none of a broker's, or it would be reached unencrypted on another machine.</exception>
    public static BrokerConnection Of(IConfiguration configuration)
    {
        if (configuration.GetConnectionString("RabbitMq") is not { Length: > 0 } text)
            throw new SettingException("ConnectionStrings:RabbitMq is not set. Give the amqp:// or amqps:// address of the plant's broker.");
        // What stands in it is a secret, and not said again.
        if (!Uri.TryCreate(text, UriKind.Absolute, out var address) || address.Scheme is not ("amqp" or "amqps"))
            throw new SettingException("ConnectionStrings:RabbitMq is not an address that begins with amqp:// or amqps://.");
        Connections.CheckBroker(configuration, address);
        var file = configuration["RabbitMq:Authority"];
        return new(address, string.IsNullOrEmpty(file) ? null : Connections.ReadAuthority(file, "RabbitMq:Authority"));
    }

    /// <summary>For connections of our own.</summary>
    public ConnectionFactory Factory()
    {
        var factory = new ConnectionFactory { Uri = _address, AutomaticRecoveryEnabled = false };
        if (!factory.Ssl.Enabled) return factory;
        factory.Ssl.ServerName = _address.Host;
        factory.Ssl.Version = SslProtocols.None;
        factory.Ssl.AcceptablePolicyErrors = SslPolicyErrors.None;
        factory.Ssl.CertificateValidationCallback = IsTheBrokers;
        return factory;
    }

    /// <summary>For the bus.</summary>
    public void Host(IRabbitMqBusFactoryConfigurator bus) => bus.Host(_address, host =>
    {
        if (_address.Scheme != "amqps") return;
        host.UseSsl(ssl =>
        {
            ssl.ServerName = _address.Host;
            ssl.Protocol = SslProtocols.None;
            ssl.CertificateValidationCallback = IsTheBrokers;
        });
    });

    /// <summary>Why the broker is there and does not come to a connection, in words for whoever sets it up; null when it is merely away.</summary>
    public string? WhyNot(Exception? failure) => failure switch
    {
        null => null,
        AuthenticationException => $"the message broker's certificate was not accepted. It must name {_address.Host} and be of an authority that this machine trusts, or of the one in RabbitMq:Authority",
        RabbitMQ.Client.Exceptions.AuthenticationFailureException => "the message broker does not take user and password of ConnectionStrings:RabbitMq",
        AggregateException many => many.InnerExceptions.Select(WhyNot).FirstOrDefault(w => w is not null),
        // Whoever speaks plain AMQP to a listener for TLS is cut off without a word of AMQP.
        IOException or RabbitMQ.Client.Exceptions.ProtocolException when _address.Scheme == "amqp" => "the message broker closed the connection before it said anything. Where it takes encrypted ones only, ConnectionStrings:RabbitMq begins with amqps://",
        _ => WhyNot(failure.InnerException),
    };

    private bool IsTheBrokers(object sender, X509Certificate? certificate, X509Chain? chain, SslPolicyErrors errors)
    {
        if (_authority is null || errors == SslPolicyErrors.RemoteCertificateNotAvailable || certificate is null) return errors == SslPolicyErrors.None;
        if ((errors & SslPolicyErrors.RemoteCertificateNameMismatch) != 0) return false;
        using var own = new X509Chain();
        own.ChainPolicy.TrustMode = X509ChainTrustMode.CustomRootTrust;
        own.ChainPolicy.CustomTrustStore.AddRange(_authority);
        // An authority of the plant's own publishes no list of revoked certificates.
        own.ChainPolicy.RevocationMode = X509RevocationMode.NoCheck;
        // A server's certificate: id-kp-serverAuth of RFC 5280, section 4.2.1.12.
        own.ChainPolicy.ApplicationPolicy.Add(new Oid("1.3.6.1.5.5.7.3.1"));
        foreach (var element in chain?.ChainElements ?? Enumerable.Empty<X509ChainElement>()) own.ChainPolicy.ExtraStore.Add(element.Certificate);
        using var shown = X509CertificateLoader.LoadCertificate(certificate.GetRawCertData());
        return own.Build(shown);
    }
}
